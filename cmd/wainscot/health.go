package main

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"time"
)

type healthVerb struct {
	Address string        `help:"Where the server listens." default:"127.0.0.1:8080" env:"WAINSCOT_LISTEN"`
	Wait    time.Duration `help:"How long to go on asking until it answers." default:"2s"`
}

// Help is shown by wainscot health --help.
func (healthVerb) Help() string {
	return `Asks the server's /livez and ends with 0 if it answers, 1 if not. A container's health check runs it.

Example:

  wainscot health --address 127.0.0.1:8080`
}

// Run asks until the server answers or the time is over.
func (v healthVerb) Run(ctx context.Context, p *program) error {
	host, port, err := net.SplitHostPort(v.Address)
	if err != nil {
		return fmt.Errorf("--address %q: write it as host:port, like 127.0.0.1:8080", v.Address)
	}
	// A server told to listen everywhere is asked on this machine.
	if ip := net.ParseIP(host); host == "" || ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	ctx, stop := context.WithTimeout(ctx, v.Wait)
	defer stop()
	for {
		err := ask(ctx, "http://"+net.JoinHostPort(host, port)+"/livez")
		if err == nil {
			fmt.Fprintln(p.Out, "alive")
			return nil
		}
		select {
		case <-ctx.Done():
			return err
		case <-time.After(askAgain):
		}
	}
}

// askAgain is the pause after an answer that did not come.
const askAgain = 50 * time.Millisecond

// ask is nil when the address answers 200.
func ask(ctx context.Context, address string) error {
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return err
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return fmt.Errorf("no answer: %w", err)
	}
	defer func() { _ = response.Body.Close() }()
	if _, err := io.Copy(io.Discard, io.LimitReader(response.Body, 1<<16)); err != nil {
		return fmt.Errorf("the answer broke off: %w", err)
	}
	if response.StatusCode != http.StatusOK {
		return fmt.Errorf("the server answers %s", response.Status)
	}
	return nil
}
