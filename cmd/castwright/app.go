package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/metadata"
	"github.com/urfave/cli/v2"
)

// run is the whole program: it returns the exit code.
func run(ctx context.Context, args []string, in io.Reader, out, errw io.Writer) int {
	printed := &printer{w: out}
	u := &ui{in: in, out: printed, err: errw}
	if code, is := readChild(args, in, out); is {
		return code
	}
	pipeline.Tool = "castwright " + version
	app := newApp(u)
	err := app.RunContext(ctx, args)
	if err == nil && printed.err != nil { // a full disk below a shell's >: nobody may take a part for the whole
		err = fmt.Errorf("not all could be printed: %w", printed.err)
	}
	if err != nil {
		if ctx.Err() != nil {
			u.note("interrupted; nothing was written")
			return exitInterrupted
		}
		if err != errRejected && err != errDifference { // those two have printed all that there is
			u.failure(err)
			if u.asJSON && printed.err == nil {
				if e := u.json(map[string]any{"findings": toJSON(asFindings(err))}); e != nil {
					u.failure(e)
				}
			}
		}
	}
	return exitCode(err)
}

// printer remembers the first error of its writer, so that it need not be asked for at each line.
type printer struct {
	w   io.Writer
	err error
}

func (p *printer) Write(b []byte) (int, error) {
	n, err := p.w.Write(b)
	if err != nil && p.err == nil {
		p.err = err
	}
	return n, err
}

func newApp(u *ui) *cli.App {
	cli.VersionPrinter = func(*cli.Context) {}
	app := &cli.App{
		Name:            "castwright",
		Usage:           "from the binned CTD casts of a cruise to its data products",
		HideVersion:     true,
		HideHelpCommand: true,
		Writer:          u.out,
		ErrWriter:       u.err,
		ExitErrHandler:  func(*cli.Context, error) {}, // only run decides on the exit code
		OnUsageError:    usage,
		Flags:           []cli.Flag{cli.HelpFlag, &cli.BoolFlag{Name: "version", Usage: "print the version"}},
		Commands:        commands(u),
		Action: func(c *cli.Context) error {
			if c.Bool("version") {
				u.version()
				return nil
			}
			if c.NArg() == 0 {
				return cli.ShowAppHelp(c)
			}
			return unknownCommand(c)
		},
		CustomAppHelpTemplate: appHelp + exitHelp(""),
	}
	for _, cmd := range app.Commands {
		cmd.OnUsageError = usage
		cmd.CustomHelpTemplate = commandHelp + exitHelp(cmd.Name)
		cmd.HideHelpCommand = true
	}
	return app
}

func unknownCommand(c *cli.Context) error {
	var names []string
	for _, cmd := range c.App.Commands {
		names = append(names, cmd.Name)
	}
	word := c.Args().First()
	e := &usageError{msg: fmt.Sprintf("no command %q", word), hint: "castwright help lists the commands"}
	if near, ok := metadata.Nearest(word, names); ok {
		e.hint = "did you mean: castwright " + strings.Join(append([]string{near}, c.Args().Tail()...), " ")
	}
	return e
}

func usage(c *cli.Context, err error, _ bool) error {
	cmd := "castwright help"
	if c.Command != nil && c.Command.Name != "" && c.Command.Name != "castwright" {
		cmd = "castwright " + c.Command.Name + " --help"
	}
	return &usageError{msg: err.Error(), hint: cmd + " tells the options"}
}

// arguments returns the n arguments of a command and refuses options that stand behind them, which the flag library would take
// for arguments without a word.
func arguments(c *cli.Context, n int, what string) ([]string, error) {
	args := c.Args().Slice()
	for i, a := range args {
		if strings.HasPrefix(a, "-") && a != "-" && i > 0 {
			fixed := append([]string{"castwright", c.Command.Name}, args[i:]...)
			return nil, &usageError{msg: fmt.Sprintf("option %s stands behind %s", a, args[0]),
				hint: "options go first; did you mean: " + strings.Join(append(fixed, args[:i]...), " ")}
		}
	}
	if len(args) != n {
		return nil, &usageError{msg: fmt.Sprintf("%s takes %s; got %d", c.Command.Name, what, len(args)),
			hint: "castwright " + c.Command.Name + " --help shows an example"}
	}
	return args, nil
}

const appHelp = `{{.Name}} - {{.Usage}}

USAGE
   castwright COMMAND [OPTIONS] FILE

COMMANDS{{range .VisibleCommands}}
   {{printf "%-10s" .Name}} {{.Usage}}{{end}}

   castwright COMMAND --help tells more; castwright help cruise-file documents the cruise file.
   Depths and positions are as logged: not for navigation. Data are as processed and flagged, not certified.

`

const commandHelp = `castwright {{.Name}} - {{.Usage}}

USAGE
   castwright {{.Name}} {{.ArgsUsage}}
{{if .Description}}
{{.Description}}
{{end}}{{if .VisibleFlags}}
OPTIONS{{range .VisibleFlags}}
   {{.}}{{end}}
{{end}}
`
