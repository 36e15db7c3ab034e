package main

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"runtime"

	"thatch/server"
	"thatch/server/api"
	"thatch/server/jobs"
	"thatch/server/salon"
	"thatch/server/share"
	"thatch/store"
)

type listenFlag struct {
	Listen string `help:"${cmd_help_serve_listen}" default:"127.0.0.1:8420" placeholder:"ADDR"`
}

type serveCmd struct {
	dataFlag
	listenFlag
}

func (c *serveCmd) Run(ctx context.Context, s streams) error {
	if err := server.CheckListen(c.Listen); err != nil { // before a folder is made for nothing
		return err
	}
	st, sal, err := c.open(ctx, false)
	if err != nil {
		return err
	}
	defer st.Close()
	return serve(ctx, s, st, sal, c.Listen)
}

// serve answers until ctx ends, with the workers of the queue beside it.
func serve(ctx context.Context, s streams, st *store.Store, sal *salon.Salon, listen string) error {
	log := slog.New(slog.NewTextHandler(s.err, nil))
	handler, err := assemble(sal, log)
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
	return server.Serve(ctx, listen, handler, func(url string) {
		fmt.Fprintln(s.out, s.say.T("cmd.serving", "url", url))
	})
}

func assemble(sal *salon.Salon, log *slog.Logger) (http.Handler, error) {
	clients, err := share.Handler(sal, log)
	if err != nil {
		return nil, err
	}
	return server.New(sal, server.Options{Log: log, API: api.Handler(sal, log), Share: clients})
}
