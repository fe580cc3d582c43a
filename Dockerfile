# One image of one program. Build and run:
#
#   docker build -t wainscot .
#   docker run --rm -p 8080:8080 -v wainscot-data:/var/lib/wainscot \
#       -e WAINSCOT_SIGNING_KEY="$(openssl rand -base64 32)" wainscot
#
# The database is SQLite inside the program, so the volume is all there is to
# keep; docs/operating.md says how.

FROM golang:1.26-bookworm AS build
WORKDIR /src
# The modules first: they change seldom, so this layer is kept.
COPY go.mod go.sum ./
RUN go mod download
COPY . .
# cgo for SQLite; trimpath so that the program names no folder of this build.
RUN CGO_ENABLED=1 go build -trimpath -ldflags="-s -w" -o /out/wainscot ./cmd/wainscot \
    && mkdir -p /out/data

FROM debian:bookworm-slim
# No shell user, no home, a fixed number so that volumes keep their owner.
RUN groupadd --system --gid 10001 wainscot \
    && useradd --system --uid 10001 --gid 10001 --no-create-home --home-dir /nonexistent --shell /usr/sbin/nologin wainscot
COPY --from=build /out/wainscot /usr/local/bin/wainscot
COPY --from=build --chown=10001:10001 /out/data /var/lib/wainscot

ENV WAINSCOT_DATABASE=/var/lib/wainscot/wainscot.db \
    WAINSCOT_LISTEN=0.0.0.0:8080
VOLUME ["/var/lib/wainscot"]
EXPOSE 8080
USER 10001:10001
# Asks the server's own /livez by the same program: the image needs no other tool.
HEALTHCHECK --interval=30s --timeout=3s --start-period=10s --retries=3 \
    CMD ["/usr/local/bin/wainscot", "health"]
ENTRYPOINT ["/usr/local/bin/wainscot"]
CMD ["serve", "--migrate"]
