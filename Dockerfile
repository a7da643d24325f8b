# syntax=docker/dockerfile:1
# One image for web, worker and scheduler; docker-compose.yml says what each runs.

FROM python:3.11-slim AS build
ENV UV_COMPILE_BYTECODE=1 UV_LINK_MODE=copy
WORKDIR /site
COPY pyproject.toml requirements.lock ./
# Every package must have the hash in the lock file; the tools and embedded servers stay out.
RUN awk '/^[^ ]/ { ours = /^uv==/ } ours' requirements.lock > uv.lock \
 && pip install --no-cache-dir --require-hashes --requirement uv.lock \
 && uv venv /site/.venv \
 && uv pip install --no-cache --python /site/.venv/bin/python \
      --require-hashes --constraint requirements.lock --requirement pyproject.toml
COPY manage.py ./
COPY config config
COPY turnouts turnouts
COPY repairs repairs
COPY planning planning
# The settings refuse to start with anything missing; nothing here is opened, kept or used again.
RUN SECRET_KEY="$(python -c 'import secrets; print(secrets.token_urlsafe(48))')" \
    DATABASE_URL=postgres://build/build REDIS_URL=redis://build ALLOWED_HOSTS=build \
    MEDIA_ROOT=/site/media EMAIL_URL=dummymail:// /site/.venv/bin/python manage.py collectstatic --noinput --verbosity 0

FROM python:3.11-slim
RUN useradd --system --uid 10001 --create-home --home-dir /home/frogs frogs \
 && install --directory --owner frogs --group frogs /media/frogs
WORKDIR /site
COPY --from=build /site /site
ENV PATH=/site/.venv/bin:$PATH \
    PYTHONUNBUFFERED=1 \
    DJANGO_ENV=production \
    DJANGO_SETTINGS_MODULE=config.settings \
    MEDIA_ROOT=/media/frogs
USER frogs
EXPOSE 8000
HEALTHCHECK --interval=30s --timeout=5s --start-period=30s --retries=3 \
  CMD ["python", "-m", "config.probe", "http://127.0.0.1:8000/health/ready"]
CMD ["granian", "config.wsgi:application", "--interface", "wsgi", "--host", "0.0.0.0", \
     "--port", "8000", "--workers", "2", "--blocking-threads", "4", "--workers-kill-timeout", "20"]
