package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/castwright/castwright/cmd/internal/handover"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/urfave/cli/v2"
)

// shells are those that completion prints a script for.
var shells = []string{"bash", "zsh", "fish"}

func completionCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "completion", Usage: "print a script that completes commands and options in a shell",
		ArgsUsage: strings.Join(shells, "|"),
		Description: `The script completes commands, options, recipients, keys of the cruise file and names of files. Write it to the file that the shell
reads at its start, as below, and again after each update of castwright.

EXAMPLE
   castwright completion bash > ~/.local/share/bash-completion/completions/castwright
   castwright completion zsh > ~/.zfunc/_castwright      # ~/.zfunc is in fpath
   castwright completion fish > ~/.config/fish/completions/castwright.fish`,
		Action: func(c *cli.Context) error {
			args, err := arguments(c, 1, "the name of a shell: "+strings.Join(shells, ", "))
			if err != nil {
				return err
			}
			list := completed(c.App)
			switch args[0] {
			case "bash":
				bashCompletion(u.out, list)
			case "zsh":
				zshCompletion(u.out, list)
			case "fish":
				fishCompletion(u.out, list)
			default:
				hint := "shells are " + strings.Join(shells, ", ")
				if near, ok := metadata.Nearest(args[0], shells); ok {
					hint = "did you mean: castwright completion " + near
				}
				return &usageError{msg: fmt.Sprintf("no script for the shell %q", args[0]), hint: hint}
			}
			return nil
		},
	}
}

// A completion is a command, its options and the words that one of its arguments may be.
type completion struct {
	name, usage string
	options     []optionText
	words       []string
	argument    int // which argument the words are for, from 0; file names are for the others
}

// completed returns what is completed, command by command.
func completed(app *cli.App) []completion {
	var out []completion
	for _, cmd := range app.Commands {
		x := completion{name: cmd.Name, usage: cmd.Usage, options: optionTexts(cmd)}
		switch cmd.Name {
		case "help":
			_, keys := cruisefile.Explain("")
			for _, other := range app.Commands {
				x.words = append(x.words, other.Name)
			}
			x.words = append(x.words, append([]string{"cruise-file", "checks"}, keys...)...)
		case "completion":
			x.words = shells
		case "handover":
			for _, r := range handover.Recipients() {
				x.words = append(x.words, string(r))
			}
			x.argument = 1
		}
		out = append(out, x)
	}
	return out
}

func (x *completion) flags() string {
	var all []string
	for _, o := range x.options {
		all = append(all, o.names...)
	}
	return strings.Join(all, " ")
}

// valued returns the options that take a value.
func (x *completion) valued() string {
	var all []string
	for _, o := range x.options {
		if o.value != "" {
			all = append(all, o.names...)
		}
	}
	return strings.Join(all, " ")
}

func bashCompletion(w io.Writer, list []completion) {
	var names []string
	for i := range list {
		names = append(names, list[i].name)
	}
	fmt.Fprintf(w, `# Completion for bash, printed by castwright completion bash.
_castwright() {
   local cur=${COMP_WORDS[COMP_CWORD]} i count=0 skip=0 options= valued= words= argument=0
   COMPREPLY=()
   if [ "$COMP_CWORD" -eq 1 ]; then
      COMPREPLY=($(compgen -W '%s' -- "$cur"))
      return
   fi
   case ${COMP_WORDS[1]} in
`, strings.Join(names, " "))
	for i := range list {
		x := &list[i]
		fmt.Fprintf(w, "   %s) options='%s' valued='%s' words='%s' argument=%d ;;\n", x.name, x.flags(), x.valued(),
			strings.Join(x.words, " "), x.argument)
	}
	fmt.Fprint(w, `   esac
   # skip is 1 behind an option that takes a value, count is the number of arguments before this one
   for ((i = 2; i < COMP_CWORD; i++)); do
      if [ $skip -eq 1 ]; then
         skip=0
         continue
      fi
      case ${COMP_WORDS[i]} in
      -*) case " $valued " in *" ${COMP_WORDS[i]} "*) skip=1 ;; esac ;;
      *) count=$((count + 1)) ;;
      esac
   done
   [ $skip -eq 1 ] && return # a value: names of files
   case $cur in
   -*) COMPREPLY=($(compgen -W "$options" -- "$cur")) ;;
   *) [ $count -eq "$argument" ] && COMPREPLY=($(compgen -W "$words" -- "$cur")) ;;
   esac
}
complete -o default -F _castwright castwright
`)
}

// shellText returns text for a word in single quotes.
func shellText(s string) string { return strings.ReplaceAll(s, "'", `'\''`) }

func zshCompletion(w io.Writer, list []completion) {
	plain := strings.NewReplacer("'", `'\''`, `[`, `\[`, `]`, `\]`, `:`, `\:`)
	fmt.Fprint(w, `#compdef castwright
# Completion for zsh, printed by castwright completion zsh.
_castwright() {
   local -a commands
   if ((CURRENT == 2)); then
      commands=(
`)
	for i := range list {
		fmt.Fprintf(w, "         '%s:%s'\n", list[i].name, shellText(strings.ReplaceAll(list[i].usage, ":", `\:`)))
	}
	fmt.Fprint(w, `      )
      _describe command commands
      return
   fi
   local command=${words[2]}
   shift words
   ((CURRENT--))
   case $command in
`)
	for i := range list {
		x := &list[i]
		fmt.Fprintf(w, "   %s) _arguments", x.name)
		for _, o := range x.options {
			for _, name := range o.names {
				fmt.Fprintf(w, " \\\n      '%s[%s]", name, plain.Replace(o.usage))
				if o.value != "" {
					fmt.Fprintf(w, ":%s:_files", plain.Replace(o.value))
				}
				fmt.Fprint(w, "'")
			}
		}
		for n := 0; len(x.words) > 0 && n < x.argument; n++ {
			fmt.Fprintf(w, " \\\n      '%d:file:_files'", n+1)
		}
		if len(x.words) > 0 {
			fmt.Fprintf(w, " \\\n      '%d:word:(%s)'", x.argument+1, strings.Join(x.words, " "))
		}
		fmt.Fprint(w, " \\\n      '*:file:_files' ;;\n")
	}
	fmt.Fprint(w, `   esac
}
if [ "$funcstack[1]" = _castwright ]; then
   _castwright "$@"
else
   compdef _castwright castwright
fi
`)
}

func fishCompletion(w io.Writer, list []completion) {
	quoted := func(s string) string {
		return "'" + strings.NewReplacer(`\`, `\\`, "'", `\'`).Replace(s) + "'"
	}
	fmt.Fprint(w, "# Completion for fish, printed by castwright completion fish.\n")
	for i := range list {
		x := &list[i]
		fmt.Fprintf(w, "complete -c castwright -f -n __fish_use_subcommand -a %s -d %s\n", x.name, quoted(x.usage))
		of := "'__fish_seen_subcommand_from " + x.name + "'"
		if x.name != "help" { // the names of commands are words of help
			of = "'__fish_seen_subcommand_from " + x.name + "; and not __fish_seen_subcommand_from help'"
		}
		for _, o := range x.options {
			fmt.Fprintf(w, "complete -c castwright -n %s", of)
			for _, name := range o.names {
				kind := "-l"
				if !strings.HasPrefix(name, "--") {
					kind = "-s"
				}
				fmt.Fprintf(w, " %s %s", kind, strings.TrimLeft(name, "-"))
			}
			if o.value != "" {
				fmt.Fprint(w, " -r")
			}
			fmt.Fprintf(w, " -d %s\n", quoted(o.usage))
		}
		if len(x.words) > 0 {
			alone := " -f"
			if x.argument > 0 { // names of files too
				alone = ""
			}
			fmt.Fprintf(w, "complete -c castwright%s -n %s -a %s\n", alone, of, quoted(strings.Join(x.words, " ")))
		}
	}
}
