package main

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"runtime"
	"sync"

	"thatch/server"
	"thatch/server/api"
	"thatch/server/jobs"
	"thatch/server/login"
	"thatch/server/salon"
	"thatch/server/share"
	"thatch/store"
)

type listenFlag struct {
	Listen string `help:"${cmd_help_serve_listen}" default:"127.0.0.1:8420" placeholder:"ADDR"`
}

// networkFlags are how other devices come in.
type networkFlags struct {
	listenFlag
	TLSCert      string   `name:"tls-cert" help:"${cmd_help_serve_tls_cert}" placeholder:"FILE" type:"path"`
	TLSKey       string   `name:"tls-key" help:"${cmd_help_serve_tls_key}" placeholder:"FILE" type:"path"`
	TLSOwn       bool     `name:"tls-own" help:"${cmd_help_serve_tls_own}"`
	PlainHTTPLAN bool     `name:"plain-http-lan" help:"${cmd_help_serve_plain_http_lan}"`
	Host         []string `help:"${cmd_help_serve_host}" placeholder:"NAME"`
}

func (f networkFlags) network() server.Network {
	return server.Network{Listen: f.Listen, TLSCert: f.TLSCert, TLSKey: f.TLSKey, TLSOwn: f.TLSOwn, PlainLAN: f.PlainHTTPLAN, Hosts: f.Host}
}

type serveCmd struct {
	dataFlag
	networkFlags
	nightlyFlags
	MinFreeMB uint32 `name:"min-free-mb" help:"${cmd_help_serve_min_free_mb}" placeholder:"MB"`
}

func (c *serveCmd) Run(ctx context.Context, s streams) error {
	if err := c.network().Check(); err != nil { // before a folder is made for nothing
		return err
	}
	if err := c.plan().Check(c.folder()); err != nil {
		return err
	}
	st, sal, err := c.openWith(ctx, store.Options{FloorBytes: int64(c.MinFreeMB) << 20})
	if err != nil {
		return err
	}
	defer st.Close()
	if err := sal.PlanBackups(c.plan()); err != nil {
		return err
	}
	door, err := c.network().Open(c.folder())
	if err != nil {
		return err
	}
	return serve(ctx, s, st, sal, door, func(url string) error { return s.ownersCode(ctx, sal, url) })
}

// serve answers until ctx ends, with the workers of the queue, backups and housekeeping beside it. more, if not nil, has something to add once it is
// said where.
func serve(ctx context.Context, s streams, st *store.Store, sal *salon.Salon, door *server.Door, more func(url string) error) error {
	log := slog.New(slog.NewTextHandler(s.err, nil))
	handler, err := assemble(sal, log, door)
	if err != nil {
		return err
	}
	if err := sal.LookAtOlder(ctx); err != nil {
		return err
	}
	workers, err := jobs.Start(ctx, st, sal, jobs.Options{Workers: runtime.NumCPU(), Log: log})
	if err != nil {
		return err
	}
	defer workers.Stop()
	defer keepBackups(ctx, sal, log)()
	defer keepTidy(ctx, st, log)()
	defer workAhead(ctx, sal, log)()
	return door.Serve(ctx, handler, log, func(urls []string) {
		s.serving(door, urls)
		if more == nil {
			return
		}
		if err := more(urls[0]); err != nil {
			log.Error("the owner's code", "error", err) // the salon is served all the same
		}
	})
}

// workAhead has the day's plans worked out while nobody asks for them yet, until stop is called.
func workAhead(ctx context.Context, sal *salon.Salon, log *slog.Logger) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	var wg sync.WaitGroup
	wg.Go(func() {
		if err := sal.WorkAhead(ctx); err != nil && ctx.Err() == nil {
			log.Error("working ahead", "error", err)
		}
	})
	return func() { cancel(); wg.Wait() }
}

// serving says where the salon is found, and what a phone needs to know of its certificate.
func (s streams) serving(door *server.Door, urls []string) {
	if door.Outside() {
		fmt.Fprintln(s.out, s.say.T("cmd.serve.lan", "url", urls[0]))
	} else {
		fmt.Fprintln(s.out, s.say.T("cmd.serving", "url", urls[0]))
	}
	for _, url := range urls[1:] {
		fmt.Fprintln(s.out, s.say.T("cmd.serve.also", "url", url))
	}
	if own := door.Own(); own != nil {
		fmt.Fprintln(s.out, s.say.T("cmd.serve.trust", "url", urls[0]+"/trust"))
		fmt.Fprintln(s.out, own.Fingerprint())
		if own.Fresh() {
			fmt.Fprintln(s.out, s.say.T("cmd.serve.trust.new"))
		}
	}
	if door.Plain() {
		fmt.Fprintln(s.err, s.say.T("cmd.serve.plain"))
	}
}

func assemble(sal *salon.Salon, log *slog.Logger, door *server.Door) (http.Handler, error) {
	clients, err := share.Handler(sal, log)
	if err != nil {
		return nil, err
	}
	return server.New(sal, server.Options{
		Log: log, Hosts: door.Hosts(), HSTS: door.HSTS(), Own: door.Own(), API: api.Handler(sal, log), Share: clients,
		Login: login.New(sal, login.Options{Local: door.Local(), Log: log}),
	})
}
