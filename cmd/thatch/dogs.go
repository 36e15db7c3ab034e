package main

import (
	"context"

	"thatch/timeline"
)

type dogsCmd struct {
	dataFlag
	JSON bool `name:"json" help:"${cmd_help_json}"`
}

func (c *dogsCmd) Run(ctx context.Context, s streams) error {
	st, sal, err := c.open(ctx, true)
	if err != nil {
		return err
	}
	defer st.Close()
	roll, err := sal.Roll(ctx)
	if err != nil {
		return err
	}
	if c.JSON {
		return s.json(roll)
	}
	for _, d := range roll {
		show := timeline.Say("cmd.no_show")
		if d.NextShow != nil {
			show = timeline.Say("cmd.show", "name", d.NextShow.Name, "on", d.NextShow.On)
		}
		s.printf("%s: %s\n", d.Name, s.say.T("cmd.dog", "photos", timeline.Say("cmd.photos", "n", d.Photos), "sessions", timeline.Say("cmd.sessions", "n", d.Sessions), "show", show))
	}
	return nil
}

type timelineCmd struct {
	dataFlag
	Dog  string `help:"${cmd_help_dog}" required:"" placeholder:"NAME"`
	JSON bool   `name:"json" help:"${cmd_help_json}"`
}

func (c *timelineCmd) Run(ctx context.Context, s streams) error {
	st, sal, err := c.open(ctx, true)
	if err != nil {
		return err
	}
	defer st.Close()
	dog, err := sal.FindDog(ctx, c.Dog)
	if err != nil {
		return err
	}
	t, err := sal.Timeline(ctx, dog.ID)
	if err != nil {
		return err
	}
	if c.JSON {
		return s.json(t)
	}
	for _, v := range t.Sessions {
		s.printf("%s  %s\n", v.On, s.say.T("cmd.session", "zones", len(v.Work), "photos", len(v.Photos), "minutes", v.Minutes))
		for _, p := range v.Photos {
			s.printf("  %s  %s %s  %s\n", when(p.TakenLocal), s.say.T("side."+string(p.Side)), s.say.T("phase."+string(p.Phase)), p.File)
		}
	}
	for _, p := range t.Unpaired {
		s.printf("%s  %s\n", when(p.TakenLocal), p.File)
	}
	return nil
}

func when(local *string) string {
	if local == nil {
		return "-"
	}
	return *local
}
