# The site, the worker and the beat run from this one image; docker-compose.yml says which is which.
FROM debian:12-slim

RUN apt-get update \
 && apt-get install -y --no-install-recommends python3 python3-venv ca-certificates \
      libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu fonts-noto-core \
 && rm -rf /var/lib/apt/lists/* \
 && useradd --uid 10001 --create-home --home-dir /home/practice practice \
 && install -d -m 700 -o practice -g practice /data

WORKDIR /app
COPY requirements/run.txt requirements/run.txt
RUN python3 -m venv /venv && /venv/bin/pip install --no-cache-dir --require-hashes -r requirements/run.txt
COPY . .
# Hashed names for the static files are made once, into the image: the container's root may be read-only.
RUN DATA_DIR=/tmp/build SECRET_KEY=only-while-building STATIC_DIR=/app/static-made \
      /venv/bin/python manage.py collectstatic --noinput

ENV PATH=/venv/bin:$PATH PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 DATA_DIR=/data STATIC_DIR=/app/static-made
USER practice
EXPOSE 8000
CMD ["python", "manage.py", "serve", "--host", "0.0.0.0"]
