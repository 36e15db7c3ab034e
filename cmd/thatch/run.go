package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/alecthomas/kong"

	"thatch/timeline"
	"thatch/web/words"
)

// Exit codes.
const (
	exitDone   = 0
	exitFailed = 1 // the machine's trouble, or some of the files were refused
	exitInput  = 2 // the call or its input is wrong; nothing was written
)

// errSome says that the command did its work but some of the files were refused; what and why is printed already.
var errSome = errors.New("some files were refused")

type commands struct {
	Serve    serveCmd    `cmd:"" help:"Serve the salon in the browser, on this machine only."`
	Demo     demoCmd     `cmd:"" help:"Build an invented salon and serve it."`
	Add      addCmd      `cmd:"" help:"Take photos in, onto a dog's timeline."`
	Dogs     dogsCmd     `cmd:"" help:"List the dogs."`
	Timeline timelineCmd `cmd:"" help:"A dog's sessions and photos by day."`
	Inspect  inspectCmd  `cmd:"" help:"What photos say of themselves; nothing is kept."`
	Align    alignCmd    `cmd:"" help:"Lay one photo over another by their points."`
	Forecast forecastCmd `cmd:"" help:"What to expect of a coat on a day."`
	Plan     planCmd     `cmd:"" help:"Plan the sessions of a coat back from its shows."`
	Phantom  phantomCmd  `cmd:"" help:"Draw dogs with exactly known geometry."`
	Version  versionCmd  `cmd:"" help:"The program's version."`
}

// streams are where a command speaks: what was asked for goes to out, progress and complaints to err.
type streams struct {
	out, err io.Writer
	say      words.Speaker
}

func (s streams) printf(format string, args ...any) { fmt.Fprintf(s.out, format, args...) }

// json prints one document.
func (s streams) json(v any) error {
	e := json.NewEncoder(s.out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// run is the whole program; it returns the exit code. Flags may be given as THATCH_… in the environment.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	s := streams{out: stdout, err: stderr, say: words.Speaker{Lang: "en"}}
	var cli commands
	ended := -1
	parser, err := kong.New(&cli,
		kong.Name("thatch"), kong.Description(s.say.T("cmd.about")), kong.DefaultEnvars("THATCH"),
		kong.Writers(stdout, stderr), kong.Exit(func(code int) { ended = code; panic(stopped{}) }), kong.ShortUsageOnError(),
		kong.Vars{"data_default": defaultDataFolder()},
	)
	if err != nil {
		return s.complain(err)
	}
	parsed, err := parse(parser, args)
	if ended >= 0 { // --help was printed
		return ended
	}
	if err != nil {
		fmt.Fprintf(stderr, "thatch: %s\n", oneLine(err.Error()))
		return exitInput
	}
	parsed.BindTo(ctx, (*context.Context)(nil))
	err = parsed.Run(s)
	if err == nil {
		return exitDone
	}
	if errors.Is(err, errSome) {
		return exitFailed
	}
	return s.complain(err)
}

// stopped unwinds kong where it wants to end the process, so that tests and callers keep theirs.
type stopped struct{}

func parse(p *kong.Kong, args []string) (c *kong.Context, err error) {
	defer func() {
		if v := recover(); v != nil {
			if _, ok := v.(stopped); !ok {
				panic(v)
			}
		}
	}()
	return p.Parse(args)
}

// complain prints one clear line and tells whose trouble it was.
func (s streams) complain(err error) int {
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(s.err, "thatch: "+s.say.T("cmd.stopped"))
		return exitFailed
	}
	fmt.Fprintln(s.err, "thatch: "+oneLine(s.sentence(err)))
	switch timeline.KindOf(err) {
	case timeline.Invalid, timeline.NotFound, timeline.Conflict, timeline.TooLarge, timeline.Forbidden:
		return exitInput
	}
	return exitFailed
}

// sentence is the error in words; the operator of a command line may read the cause too.
func (s streams) sentence(err error) string {
	var f *timeline.Fault
	if !errors.As(err, &f) {
		return err.Error()
	}
	text := s.say.Fault(f)
	if f.Kind == timeline.Internal && f.Err != nil {
		text += " (" + f.Err.Error() + ")"
	}
	return text
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
