package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"runtime"

	"thatch/server"
	"thatch/server/demo"
	"thatch/server/jobs"
	"thatch/server/salon"
	"thatch/store"
	"thatch/timeline"
)

type demoCmd struct {
	Data    string `help:"${cmd_help_demo_data}" placeholder:"DIR" type:"path"`
	NoServe bool   `help:"${cmd_help_demo_noserve}"`
	Photos  int    `help:"${cmd_help_demo_photos}" placeholder:"N"`
	listenFlag
}

func (c *demoCmd) Run(ctx context.Context, s streams) error {
	if c.NoServe && c.Data == "" {
		return timeline.NewFault(timeline.Invalid, "fault.cmd.demo_data").In("data")
	}
	if err := (demo.Options{Photos: c.Photos}).Check(); err != nil { // before a folder is made for nothing
		return err
	}
	if !c.NoServe {
		if err := server.CheckListen(c.Listen); err != nil { // before half a minute of drawing for nothing
			return err
		}
	}
	dir := c.Data
	if dir == "" {
		tmp, err := os.MkdirTemp("", "thatch-demo-")
		if err != nil {
			return err
		}
		defer os.RemoveAll(tmp)
		dir = tmp
	}
	st, err := store.Open(ctx, dir, store.Options{})
	if err != nil {
		return err
	}
	defer st.Close()
	sal := salon.New(st, salon.Options{})

	// Derivatives are made while the next photos are drawn, so that the pages have their pictures when they open.
	workers, err := jobs.Start(ctx, st, sal, jobs.Options{Workers: runtime.NumCPU(), Log: slog.New(slog.NewTextHandler(s.err, nil))})
	if err != nil {
		return err
	}
	bar := progress(s)
	err = demo.Build(ctx, sal, demo.Options{Photos: c.Photos, Progress: func(done, total int, what timeline.Phrase) {
		bar(done, total, s.say.Say(what))
	}})
	workers.Stop()
	if err == nil && c.NoServe {
		err = jobs.Drain(ctx, st, sal, jobs.Options{})
	}
	if err != nil {
		return err
	}
	if c.NoServe {
		fmt.Fprintln(s.out, s.say.T("cmd.demo.built", "dir", dir))
		return nil
	}
	door, err := server.Network{Listen: c.Listen}.Open(dir)
	if err != nil {
		return err
	}
	return serve(ctx, s, st, sal, door, nil)
}
