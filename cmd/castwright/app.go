package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/cmd/internal/verify"
	"github.com/castwright/castwright/metadata"
	"github.com/urfave/cli/v2"
)

// run is the whole program: it returns the exit code.
func run(ctx context.Context, args []string, in io.Reader, out, errw io.Writer) int {
	printed := &printer{w: out}
	u := &ui{in: in, out: &cleaner{printed}, err: &cleaner{&locked{w: errw}}, terminal: errw, began: time.Now(),
		ended: make(chan struct{})}
	defer close(u.ended)
	if code, is := verify.ServeChild(args, in, out); is {
		return code
	}
	app := newApp(u)
	err := app.RunContext(ctx, optionsFirst(app, args))
	if err == nil && printed.err != nil { // a full disk below a shell's >: nobody may take a part for the whole
		err = fmt.Errorf("not all could be printed: %w", printed.err)
	}
	if err != nil {
		if ctx.Err() != nil {
			sayInterrupted(errw, false)
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
		cmd.Flags = append(cmd.Flags, voiceFlags(u, cmd.Name)...)
		cmd.OnUsageError = usage
		cmd.CustomHelpTemplate = commandHelp + exitHelp(cmd.Name)
		cmd.HideHelpCommand = true
	}
	return app
}

// unknownWord returns the error for a word that is neither a command nor a key of the cruise file.
func unknownWord(c *cli.Context, keys []string) error {
	err := unknownCommand(c)
	var u *usageError
	if near, ok := metadata.Nearest(c.Args().First(), keys); ok && errors.As(err, &u) &&
		!strings.HasPrefix(u.hint, "did you mean") {
		u.msg = fmt.Sprintf("no command and no key of the cruise file is called %q", c.Args().First())
		u.hint = "did you mean: castwright help " + near
	}
	return err
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
	return &usageError{msg: err.Error(), hint: cmd + " lists the options"}
}

// optionsFirst moves the options of a command in front of its arguments, since the flag library takes what follows an
// argument for arguments. Behind "--" everything is an argument.
func optionsFirst(app *cli.App, args []string) []string {
	for first := 1; first < len(args) && slices.Contains(voiceOptions, args[first]); first++ { // -q build: build -q
		if first+1 < len(args) && app.Command(args[first+1]) != nil {
			args = slices.Concat(args[:1], args[first+1:first+2], args[1:first+1], args[first+2:])
			break
		}
	}
	if len(args) < 3 || app.Command(args[1]) == nil {
		return args
	}
	takesValue := map[string]bool{}
	for _, f := range app.Command(args[1]).Flags {
		if d, ok := f.(cli.DocGenerationFlag); ok {
			for _, name := range f.Names() {
				takesValue[name] = d.TakesValue()
			}
		}
	}
	options, rest := slices.Clone(args[:2]), []string(nil)
	for i := 2; i < len(args); i++ {
		a := args[i]
		if a == "--" {
			rest = append(rest, args[i:]...)
			break
		}
		if !strings.HasPrefix(a, "-") || a == "-" {
			rest = append(rest, a)
			continue
		}
		options = append(options, a)
		if takesValue[strings.TrimLeft(a, "-")] { // a name with =value is no name of a flag
			if i++; i == len(args) {
				return options // the flag library says what is missing
			}
			options = append(options, args[i])
		}
	}
	return append(options, rest...)
}

// cruiseFile returns the cruise file that the arguments name: a file, the cruise.yaml in a folder, or that in the
// working folder.
func cruiseFile(c *cli.Context) (string, error) {
	if c.NArg() == 0 {
		if _, err := os.Stat(cruiseName); err != nil {
			return "", &usageError{msg: fmt.Sprintf("%s takes one cruise file, and there is no %s here", c.Command.Name,
				cruiseName),
				hint: "name the cruise file or its folder; castwright draft FOLDER writes one for the casts in a folder"}
		}
		return cruiseName, nil
	}
	args, err := arguments(c, 1, "one cruise file or its folder")
	if err != nil {
		return "", err
	}
	if info, err := os.Stat(args[0]); err == nil && info.IsDir() {
		return cruiseFileIn(args[0])
	}
	return args[0], nil
}

// cruiseFileIn returns the cruise file of a folder. The error for a folder without one says what to do with what is
// there instead: an archive, a cruise file of another name, casts.
func cruiseFileIn(folder string) (string, error) {
	name := filepath.Join(folder, cruiseName)
	if _, err := os.Lstat(name); !errors.Is(err, fs.ErrNotExist) {
		return name, nil
	}
	e := &metadata.InputError{Position: metadata.Position{File: name}, Err: errors.New("there is no such cruise file"),
		Remedy: "castwright draft " + folder + " writes one for the casts in the folder; castwright help cruise-file " +
			"documents its keys"}
	if _, err := os.Stat(filepath.Join(folder, "bagit.txt")); err == nil {
		e.Err = errors.New("there is no such cruise file: the folder is an archive")
		e.Remedy = "castwright verify " + folder + " checks an archive; castwright rebuild makes it again"
		return "", e
	}
	other, _ := filepath.Glob(filepath.Join(folder, "*.y*ml")) // the pattern has no fault
	if len(other) == 1 {
		e.Remedy = "did you mean " + other[0]
	}
	return "", e
}

// cruiseName is the customary name of a cruise file.
const cruiseName = "cruise.yaml"

// arguments returns the n arguments of a command.
func arguments(c *cli.Context, n int, what string) ([]string, error) {
	args := c.Args().Slice()
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
   {{printf "%-11s" .Name}} {{.Usage}}{{end}}

   castwright COMMAND --help says more; castwright help cruise-file documents the cruise file.
   Options stand before or after the file.
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
