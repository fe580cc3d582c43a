package main

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"strings"

	"wainscot/api"
	"wainscot/api/auth"
	"wainscot/api/store"
)

type serveVerb struct {
	Database   string `help:"Database: a file, or postgres://role@host/database; a password is better in PGPASSWORD." default:"wainscot.db" env:"WAINSCOT_DATABASE"`
	Listen     string `help:"Address to listen on; port 0 takes a free one." default:"127.0.0.1:8080" env:"WAINSCOT_LISTEN"`
	SigningKey string `help:"Keys that sign tokens: base64 of at least 32 random bytes each, commas between; the first signs, all are believed. What stands on a command line others can read: use the variable." env:"WAINSCOT_SIGNING_KEY" placeholder:"KEY,..."`
	MemoryMiB  int    `help:"Memory to take, in MiB, about: with less, it spends more time on collecting what requests leave behind. At least 64." default:"${memory_mib}" name:"memory-mib" env:"WAINSCOT_MEMORY_MIB" placeholder:"N"`
	Proxies    int    `help:"How many proxies stand in front, each adding whom it asks for to the proxy header; 0 believes none. Those without a token are limited by their address, and behind a proxy that is not counted all share one." default:"0" env:"WAINSCOT_PROXIES" placeholder:"N"`
	Header     string `help:"Header in which the proxies say so: ${enum}. It must be the one they write." default:"X-Forwarded-For" enum:"X-Forwarded-For,Forwarded" name:"proxy-header" env:"WAINSCOT_PROXY_HEADER"`
	Migrate    bool   `help:"First bring the database up to this program, and make the file if it is not there. Not for PostgreSQL, where another role does that: wainscot migrate."`
}

// leastMemoryMiB: what a workshop's release and price-book take, compiled, with
// a few requests under way. Below it the program would do little but collect.
const leastMemoryMiB = 64

// Help is shown by wainscot serve --help.
func (serveVerb) Help() string {
	return `Serves until it is told to stop (Ctrl-C or a TERM signal), then lets the requests under way finish. Its log goes to the error stream, one JSON object a line, without bodies or secrets.

Example:

  export WAINSCOT_SIGNING_KEY="$(openssl rand -base64 32)"
  wainscot serve --migrate --database wainscot.db`
}

// Run serves the API on the database.
func (v serveVerb) Run(ctx context.Context, p *program) error {
	keys, err := signingKeys(v.SigningKey)
	if err != nil {
		return err
	}
	if v.MemoryMiB < leastMemoryMiB {
		return fmt.Errorf("--memory-mib is %d and must be at least %d", v.MemoryMiB, leastMemoryMiB)
	}
	api.CollectSeldom(v.MemoryMiB)
	if v.Migrate {
		if err := p.migrate(ctx, v.Database); err != nil {
			return err
		}
	}
	if path, isFile := store.AtFile(v.Database); isFile {
		if _, err := os.Stat(path); err != nil {
			return fmt.Errorf("there is no database %s: start with --migrate to make one, or try wainscot demo", path)
		}
	}
	s, err := store.Open(ctx, v.Database, store.Options{Now: p.Now})
	if err != nil {
		return err
	}
	log := slog.New(slog.NewJSONHandler(p.Err, nil))
	config := api.Config{Store: s, Keys: keys, Logger: log, Proxies: api.Proxies{Count: v.Proxies, Header: v.Header}}
	return errors.Join(p.serve(ctx, config, v.Listen, func(address string) {
		fmt.Fprintf(p.Out, "Serving on http://%s, the contract is at /v1/openapi.yaml.\n", address)
	}), s.Close())
}

// serve runs the API until ctx ends; ready hears the address once the server
// listens on it.
func (p *program) serve(ctx context.Context, config api.Config, listen string, ready func(address string)) error {
	config.Now = p.Now
	server, err := api.New(config)
	if err != nil {
		return err
	}
	var network net.ListenConfig
	listener, err := network.Listen(ctx, "tcp", listen)
	if err != nil {
		return fmt.Errorf("cannot listen on %s: %w; give another address with --listen", listen, err)
	}
	ready(listener.Addr().String())
	return server.Run(ctx, listener)
}

// signingKeys reads the keys as they are given. A key is known by the start of
// its own hash, so that its name stays the same wherever it stands in the list.
func signingKeys(text string) ([]auth.Key, error) {
	const remedy = `set WAINSCOT_SIGNING_KEY to what "openssl rand -base64 32" prints, and keep it`
	if strings.TrimSpace(text) == "" {
		return nil, errors.New("there is no signing key: " + remedy)
	}
	var keys []auth.Key
	for i, one := range strings.Split(text, ",") {
		secret, err := base64.StdEncoding.DecodeString(strings.TrimSpace(one))
		if err != nil {
			return nil, fmt.Errorf("signing key %d is not base64: %s", i+1, remedy)
		}
		if len(secret) < auth.MinKeyBytes {
			return nil, fmt.Errorf("signing key %d has %d bytes and needs at least %d: %s", i+1, len(secret), auth.MinKeyBytes, remedy)
		}
		keys = append(keys, keyOf(secret))
	}
	return keys, nil
}

func keyOf(secret []byte) auth.Key {
	sum := sha256.Sum256(secret)
	return auth.Key{ID: hex.EncodeToString(sum[:4]), Secret: secret}
}

// freshKey makes a key that lives as long as this run.
func freshKey(entropy io.Reader) (auth.Key, error) {
	secret := make([]byte, auth.MinKeyBytes)
	if _, err := io.ReadFull(entropy, secret); err != nil {
		return auth.Key{}, fmt.Errorf("no randomness to be had: %w", err)
	}
	return keyOf(secret), nil
}
