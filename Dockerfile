# Barrelbook in a container: one static program, no shell, no other file.
#
#   docker build -t barrelbook .
#   docker run --network host -v barrelbook:/book barrelbook
#
# and then http://localhost:8440. The program answers only on the loopback
# interface, so the container shares the host's network: a published port
# (-p) would find nobody listening. The book is /book/barrelbook.db in the
# volume, and belongs to user 65532.

FROM golang:1.26.8 AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY *.go ./
COPY migrations migrations
COPY server server
COPY static static
COPY store store
COPY views views
COPY wear wear
RUN mkdir -p /out/book
RUN CGO_ENABLED=0 go build -trimpath -ldflags='-s -w' -o /out/barrelbook .

FROM scratch
COPY --from=build /out/barrelbook /barrelbook
COPY --from=build --chown=65532:65532 /out/book /book
USER 65532:65532
WORKDIR /book
VOLUME /book
# There is no /tmp: what is temporary goes to the volume.
ENV TMPDIR=/book
HEALTHCHECK --interval=30s --timeout=5s --start-period=30s CMD ["/barrelbook", "health", "-addr", "127.0.0.1:8440"]
ENTRYPOINT ["/barrelbook"]
CMD ["serve", "-db", "/book/barrelbook.db", "-addr", "127.0.0.1:8440"]
