"""A place on the earth and its link, held against RFC 5870, "A Uniform Resource Identifier for
Geographic Locations ('geo' URI)", IETF, June 2010.
"""

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from turnouts.analysis.whereabouts import Place, place_of, refused_coordinate

# RFC 5870 section 3.3: num = [ "-" ] pnum; pnum = 1*DIGIT [ "." 1*DIGIT ];
# coordinates = num "," num [ "," num ]; p = [ crsp ] [ uncp ] *parameter.
NUM = r"-?[0-9]+(?:\.[0-9]+)?"
PNUM = r"[0-9]+(?:\.[0-9]+)?"
LABEL = r"[A-Za-z0-9-]+"
PARAMETER = rf";{LABEL}(?:=(?:[\[\]:&+$A-Za-z0-9_.!~*'()-]|%[0-9A-Fa-f]{{2}})+)?"
GRAMMAR = re.compile(
    rf"geo:(?P<latitude>{NUM}),(?P<longitude>{NUM})(?:,(?P<altitude>{NUM}))?"
    rf"(?:;crs=(?P<crs>{LABEL}))?(?:;u=(?P<uncertainty>{PNUM}))?(?:{PARAMETER})*"
)

latitudes = st.decimals(min_value=-90, max_value=90, places=6)
longitudes = st.decimals(min_value=-180, max_value=180, places=6)


def place(latitude: str, longitude: str) -> Place:
    return Place(Decimal(latitude), Decimal(longitude))


@pytest.mark.parametrize(
    "example",
    [
        "geo:13.4125,103.8667",  # section 1
        "geo:48.2010,16.3695,183",  # section 6.1
        "geo:48.198634,16.371648;crs=wgs84;u=40",  # section 6.2
        "geo:90,-22.43;crs=WGS84",  # section 6.4, as the next five
        "geo:90,46",
        "geo:22.300,-118.44",
        "geo:66,30;u=6.500;FOo=this%2dthat",
        "geo:70,20;foo=1.00;bar=white",
        "geo:47,11;foo=blue;bar=white",
    ],
)
def test_the_grammar_here_takes_the_examples_of_the_standard(example: str) -> None:
    assert GRAMMAR.fullmatch(example)


@pytest.mark.parametrize(
    ("latitude", "longitude", "uri"),
    [
        ("13.4125", "103.8667", "geo:13.4125,103.8667"),  # RFC 5870 section 1
        ("48.198634", "16.371648", "geo:48.198634,16.371648"),  # 6.2, without its u
        # 6.4: geo:22.300,-118.44 is the same place as geo:22.3,-118.4400.
        ("22.300000", "-118.440000", "geo:22.3,-118.44"),
        ("66", "30", "geo:66,30"),
        # 3.4.2: at a pole the longitude should be 0; 6.4: all such are one place.
        ("90", "-22.43", "geo:90,0"),
        ("-90.000000", "46.000000", "geo:-90,0"),
        ("-0.000000", "0E+1", "geo:0,0"),
        ("1E+1", "-100", "geo:10,-100"),
    ],
)
def test_the_link_is_a_geo_uri_as_the_standard_writes_it(
    latitude: str, longitude: str, uri: str
) -> None:
    assert place(latitude, longitude).uri == uri


@given(latitudes, longitudes)
def test_every_link_follows_the_grammar_and_means_the_place(
    latitude: Decimal, longitude: Decimal
) -> None:
    match = GRAMMAR.fullmatch(Place(latitude, longitude).uri)
    assert match
    assert Decimal(match["latitude"]) == latitude
    assert Decimal(match["longitude"]) == (longitude if abs(latitude) != 90 else 0)
    assert (match["crs"], match["uncertainty"]) == (None, None)
    assert not re.search(r"-0(?:\.0+)?(?:,|$)", match[0])


@pytest.mark.parametrize(
    ("latitude", "longitude", "words", "signed"),
    [
        ("-48.876732", "-123.393300", "48.876732° S, 123.3933° W", "-48.876732, -123.3933"),
        ("48.198634", "16.371648", "48.198634° N, 16.371648° E", "48.198634, 16.371648"),
        ("0", "0", "0° N, 0° E", "0, 0"),
    ],
)
def test_people_read_hemispheres_and_programs_signs(
    latitude: str, longitude: str, words: str, signed: str
) -> None:
    here = place(latitude, longitude)
    assert (here.words, here.signed) == (words, signed)


@pytest.mark.parametrize(
    ("axis", "degrees", "taken"),
    [  # RFC 5870 section 3.4.2, both sides of each end
        ("latitude", "90", True),
        ("latitude", "90.000001", False),
        ("latitude", "-90", True),
        ("latitude", "-90.000001", False),
        ("latitude", "94", False),  # the example of what is invalid: geo:94,0
        ("longitude", "180", True),
        ("longitude", "180.000001", False),
        ("longitude", "-180", True),
        ("longitude", "-180.000001", False),
    ],
)
def test_a_coordinate_lies_on_the_earth(axis, degrees: str, taken: bool) -> None:
    sentence = refused_coordinate(axis, Decimal(degrees), Decimal(0))
    assert (sentence is None) is taken
    if sentence:
        assert f"{degrees} does not" in sentence


def test_a_place_has_both_coordinates_or_neither() -> None:
    assert refused_coordinate("latitude", None, None) is None
    assert "give the latitude" in (refused_coordinate("latitude", None, Decimal(3)) or "")
    assert "give the longitude" in (refused_coordinate("longitude", None, Decimal(3)) or "")
    assert place_of(None, None) is None
    assert place_of(Decimal(3), Decimal(4)) == place("3", "4")


def test_there_is_no_place_off_the_earth() -> None:
    with pytest.raises(ValueError, match="were exchanged"):
        place("123.4", "-48.8")
