package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
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
	Serve    serveCmd    `cmd:"" help:"${cmd_help_command_serve}"`
	Demo     demoCmd     `cmd:"" help:"${cmd_help_command_demo}"`
	Add      addCmd      `cmd:"" help:"${cmd_help_command_add}"`
	Dogs     dogsCmd     `cmd:"" help:"${cmd_help_command_dogs}"`
	Timeline timelineCmd `cmd:"" help:"${cmd_help_command_timeline}"`
	Inspect  inspectCmd  `cmd:"" help:"${cmd_help_command_inspect}"`
	Align    alignCmd    `cmd:"" help:"${cmd_help_command_align}"`
	Owner    ownerCmd    `cmd:"" help:"${cmd_help_command_owner}"`
	Outline  outlineCmd  `cmd:"" help:"${cmd_help_command_outline}"`
	Measure  measureCmd  `cmd:"" help:"${cmd_help_command_measure}"`
	Forecast forecastCmd `cmd:"" help:"${cmd_help_command_forecast}"`
	Plan     planCmd     `cmd:"" help:"${cmd_help_command_plan}"`
	Marker   markerCmd   `cmd:"" help:"${cmd_help_command_marker}"`
	Phantom  phantomCmd  `cmd:"" help:"${cmd_help_command_phantom}"`
	Backup   backupCmd   `cmd:"" help:"${cmd_help_command_backup}"`
	Restore  restoreCmd  `cmd:"" help:"${cmd_help_command_restore}"`
	Verify   verifyCmd   `cmd:"" help:"${cmd_help_command_verify}"`
	Version  versionCmd  `cmd:"" help:"${cmd_help_command_version}"`
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

// langVariable chooses the language of the command line. The machine's own (LANG) does not: scripts read what is printed.
const langVariable = "THATCH_LANG"

func spoken(code string) string {
	if code = strings.ToLower(code); words.Spoken(code) {
		return code
	}
	return words.English
}

// run is the whole program; it returns the exit code. Flags may be given as THATCH_… in the environment.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	s := streams{out: stdout, err: stderr, say: words.Speaker{Lang: spoken(os.Getenv(langVariable))}}
	var cli commands
	ended := -1
	parser, err := kong.New(&cli,
		kong.Name("thatch"), kong.Description(s.say.T("cmd.about")), kong.DefaultEnvars("THATCH"),
		kong.Writers(stdout, stderr), kong.Exit(func(code int) { ended = code; panic(stopped{}) }), kong.ShortUsageOnError(),
		helpTexts(s.say),
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

// helpTexts are the catalogue's, as the variables that the commands' tags name: cmd.help.add.create is ${cmd_help_add_create}.
func helpTexts(say words.Speaker) kong.Vars {
	v := kong.Vars{}
	for _, key := range words.Keys(words.English) {
		if strings.HasPrefix(key, "cmd.help.") {
			v[strings.ReplaceAll(key, ".", "_")] = say.T(key, "data_default", defaultDataFolder())
		}
	}
	return v
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
	case timeline.Invalid, timeline.NotFound, timeline.Conflict, timeline.TooLarge, timeline.Forbidden, timeline.SignedOut:
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
