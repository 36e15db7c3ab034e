package main

import (
	"context"
	"path/filepath"

	"thatch/server/jobs"
	"thatch/server/salon"
	"thatch/timeline"
)

type addCmd struct {
	dataFlag
	Dog    string   `help:"${cmd_help_dog}" required:"" placeholder:"NAME"`
	Create bool     `help:"${cmd_help_add_create}"`
	JSON   bool     `name:"json" help:"${cmd_help_json}"`
	Files  []string `arg:"" name:"file" help:"${cmd_help_files}" type:"path"`
}

type addReport struct {
	Added   []salon.Entry `json:"added"`
	Already []string      `json:"already"`
	Refused []refusal     `json:"refused"`
}

type refusal struct {
	File  string `json:"file"`
	Error string `json:"error"`
}

func (c *addCmd) Run(ctx context.Context, s streams) error {
	files, err := photoFiles(c.Files)
	if err != nil {
		return err
	}
	if c.Create {
		if err := salon.CheckDogName(c.Dog); err != nil { // before a folder is made for nothing
			return err
		}
	}
	st, sal, err := c.open(ctx, !c.Create)
	if err != nil {
		return err
	}
	defer st.Close()
	who := byCommand(ctx)
	dog, err := sal.FindDog(ctx, c.Dog)
	if timeline.KindOf(err) == timeline.NotFound && c.Create {
		dog, err = sal.CreateDog(who, salon.NewDog{Name: c.Dog})
	}
	if err != nil {
		return err
	}
	report := addReport{Added: []salon.Entry{}, Already: []string{}, Refused: []refusal{}}
	bar := progress(s)
	var broken error // the machine's trouble: the files after it would meet it too, and what is in stays told
	for i, file := range files {
		bar(i, len(files), filepath.Base(file))
		if broken != nil {
			report.Refused = append(report.Refused, refusal{file, oneLine(s.sentence(broken))})
			continue
		}
		added, err := addFile(who, sal, dog.ID, file)
		switch {
		case err != nil && fatal(err):
			broken = err
			report.Refused = append(report.Refused, refusal{file, oneLine(s.sentence(err))})
		case err != nil:
			report.Refused = append(report.Refused, refusal{file, oneLine(s.sentence(err))})
		case added.Already:
			report.Already = append(report.Already, added.Photo.SHA256)
		default:
			report.Added = append(report.Added, salon.EntryOf(file, added.Facts, ""))
		}
	}
	bar(len(files), len(files), "")
	if broken == nil {
		if err := jobs.Drain(ctx, st, sal, jobs.Options{}); err != nil {
			return err
		}
	}
	if c.JSON {
		err = s.json(report)
	} else {
		c.print(s, dog, report)
	}
	switch {
	case err != nil:
		return err
	case broken != nil:
		return broken
	case len(report.Refused) > 0:
		return errSome
	}
	return nil
}

func (c *addCmd) print(s streams, dog timeline.Dog, r addReport) {
	for _, e := range r.Added {
		when := s.say.T("source.none")
		if e.TakenLocal != nil {
			when = *e.TakenLocal + ", " + s.say.T("source."+e.TakenSource)
		}
		s.printf("%s: %s\n", e.File, when)
	}
	for _, x := range r.Refused {
		s.printf("%s: %s\n", x.File, x.Error)
	}
	s.printf("%s\n", s.say.T("cmd.added", "dog", dog.Name, "added", len(r.Added), "already", len(r.Already), "refused", len(r.Refused)))
}

func addFile(ctx context.Context, sal *salon.Salon, dog timeline.ID, file string) (salon.Added, error) {
	f, err := openFile(file)
	if err != nil {
		return salon.Added{}, err
	}
	defer f.Close()
	return sal.AddPhoto(ctx, dog, filepath.Base(file), f, "")
}

// fatal tells trouble that would meet every other file too from trouble of one file.
func fatal(err error) bool {
	switch timeline.KindOf(err) {
	case timeline.Invalid, timeline.TooLarge, timeline.Conflict:
		return false
	}
	return true
}
