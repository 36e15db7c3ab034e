package main

import (
	"context"
	"fmt"
	"math"
	"os"

	"thatch/timeline"
	"thatch/timeline/coat"
	"thatch/timeline/plan"
)

type forecastCmd struct {
	On   timeline.Day `help:"${cmd_help_coat_on}" required:"" placeholder:"DATE"`
	JSON bool         `name:"json" help:"${cmd_help_json}"`
	Coat string       `arg:"" name:"coat.json" help:"${cmd_help_coat_coat}" type:"path"`
}

func (c *forecastCmd) Run(ctx context.Context, s streams) error {
	file, err := readCoat(c.Coat)
	if err != nil {
		return err
	}
	m, err := coat.New(file)
	if err != nil {
		return err
	}
	for _, d := range m.Doubted() {
		fmt.Fprintln(s.err, s.say.T("doubt.left_out", "doubt", s.say.Say(d.Say())))
	}
	f := m.Forecast(c.On)
	if c.JSON {
		return s.json(f)
	}
	if p, ok := f.Say(); ok {
		s.printf("%s\n", s.say.Say(p))
	}
	for _, z := range timeline.Zones() {
		if v, ok := f.Zones[z]; ok {
			s.printf("%s\n", s.say.T("cmd.forecast", "zone", z, "median", timeline.LengthMM(v.LongestMM.Median), "low", timeline.LengthMM(v.LongestMM.P10), "high", timeline.LengthMM(v.LongestMM.P90), "status", s.say.T("status."+string(v.Status))))
		}
	}
	return nil
}

type planCmd struct {
	JSON bool   `name:"json" help:"${cmd_help_json}"`
	Coat string `arg:"" name:"coat.json" help:"${cmd_help_coat_coat}" type:"path"`
}

func (c *planCmd) Run(ctx context.Context, s streams) error {
	file, err := readCoat(c.Coat)
	if err != nil {
		return err
	}
	p, err := plan.Make(file)
	if err != nil {
		return err
	}
	if c.JSON {
		return s.json(p.JSON(s.say.Say))
	}
	for _, v := range p.Sessions {
		s.printf("%s\n", s.say.T("cmd.plan.session", "on", v.On, "minutes", int(math.Round(v.Minutes))))
		for _, l := range v.Zones {
			if l.Do != timeline.Leave {
				key := "cmd.plan.line"
				if l.Do == timeline.Take {
					key = "cmd.plan.take"
				}
				s.printf("  %s\n", s.say.T(key, "zone", l.Zone, "do", l.Do, "share", int(math.Round(l.Share*100)), "why", l.Why))
			}
		}
	}
	for _, z := range timeline.Zones() {
		if o, ok := p.Zones[z]; ok && o.Verdict != plan.NoBand {
			s.printf("%s\n", s.say.T("cmd.plan.zone", "zone", z, "verdict", s.say.T("verdict."+string(o.Verdict))))
		}
	}
	for _, w := range p.Warnings {
		s.printf("%s\n", s.say.Say(w))
	}
	return nil
}

func readCoat(name string) (coat.File, error) {
	f, err := os.Open(name)
	if err != nil {
		return coat.File{}, timeline.NewFault(timeline.NotFound, "fault.cmd.no_file", "file", name).Because(err)
	}
	defer f.Close()
	return coat.Parse(f)
}

func round(v float64, places int) float64 {
	p := math.Pow10(places)
	return math.Round(v*p) / p
}
