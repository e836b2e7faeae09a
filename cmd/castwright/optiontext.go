package main

import (
	"regexp"
	"strings"

	"github.com/urfave/cli/v2"
)

// An optionText is an option of a command as completion and the manual page need it.
type optionText struct {
	names []string // with their dashes, the long one first
	value string   // what its value is; "" when it takes none
	usage string
}

var quotedValue = regexp.MustCompile("`([^`]*)`")

// optionTexts returns the options of a command.
func optionTexts(cmd *cli.Command) []optionText {
	out := []optionText{{names: []string{"--help", "-h"}, usage: "show help"}}
	for _, f := range cmd.Flags {
		d, ok := f.(cli.DocGenerationFlag)
		if !ok || f.Names()[0] == "help" {
			continue
		}
		o := optionText{usage: quotedValue.ReplaceAllString(d.GetUsage(), "$1")}
		for _, n := range f.Names() {
			if len(n) == 1 {
				o.names = append(o.names, "-"+n)
			} else {
				o.names = append(o.names, "--"+n)
			}
		}
		if d.TakesValue() {
			o.value = "VALUE"
			if m := quotedValue.FindStringSubmatch(d.GetUsage()); m != nil {
				o.value = m[1]
			}
		}
		if d.TakesValue() && d.GetDefaultText() != "" && d.GetDefaultText() != "0" {
			o.usage += " (default: " + strings.Trim(d.GetDefaultText(), `"`) + ")"
		}
		out = append(out, o)
	}
	return out
}
