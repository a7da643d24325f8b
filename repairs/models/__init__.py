from repairs.models.closing_changes import ClosingChange, ClosingNotice
from repairs.models.decisions import Confirmation, Decision
from repairs.models.field import (
    FieldEvent,
    FieldPhoto,
    FieldRecord,
    StartOverride,
    TrackRestriction,
)
from repairs.models.field_watch import ChanceNotice, FieldWatch
from repairs.models.jobs import Estimate, JobDefect, RepairJob
from repairs.models.lance_cooling import LanceCooling
from repairs.models.overrules import Overrule
from repairs.models.own_procedures import OwnerProcedure, OwnerSetting
from repairs.models.owner_rules import OwnerRule, TerritoryRules
from repairs.models.qualifications import ProofPicture, Qualification
from repairs.models.renewal_choices import RenewalChoice
from repairs.models.rule_set_changes import RuleSetChange
from repairs.models.sheets import JobSheet

__all__ = [
    "ChanceNotice",
    "ClosingChange",
    "ClosingNotice",
    "Confirmation",
    "Decision",
    "Estimate",
    "FieldEvent",
    "FieldPhoto",
    "FieldRecord",
    "FieldWatch",
    "JobDefect",
    "JobSheet",
    "LanceCooling",
    "Overrule",
    "OwnerProcedure",
    "OwnerRule",
    "OwnerSetting",
    "ProofPicture",
    "Qualification",
    "RenewalChoice",
    "RepairJob",
    "RuleSetChange",
    "StartOverride",
    "TerritoryRules",
    "TrackRestriction",
]
