// Package shell writes completion scripts: commands, subcommands and flags for
// bash, zsh, fish and PowerShell, each by a template of its own. What stands for
// a file is left to the shell.
package shell

import (
	"embed"
	"errors"
	"slices"
	"strings"
	"text/template"

	"calsplice/cmd/calsplice/manual"
	"calsplice/tables"
)

// Shells lists the shells that there is a script for.
var Shells = []string{"bash", "zsh", "fish", "powershell"}

//go:embed *.tmpl
var templates embed.FS

// Values are the words that may stand for something else than a file: for the
// value of a flag, such as "--color", for the argument of a command, and for a
// flag of which the program itself finds the words in the files on the line.
type Values struct {
	Flags, Arguments map[string][]string
	Files            []string // flags; "PROGRAM complete FLAG WORD..." lists their words
}

// script is what the scripts of all shells are made from.
type script struct {
	Values
	Program  string
	Commands []*manual.Section // the program's own, without those of groups
	Entries  []entry
}

// entry is one command as the shell sees it: the words typed for it, such as
// "propose fuel", and what may follow.
type entry struct {
	Name      string
	Subs      []*manual.Section
	Arguments []string
	Flags     []flag
}

type flag struct{ Name, Usage string }

// Script is the completion script of a shell.
func Script(shell, program string, commands []*manual.Section, values Values) (string, error) {
	if !slices.Contains(Shells, shell) {
		return "", errors.New(tables.Unknown("completion for", shell, Shells))
	}
	t, err := template.New("").Funcs(template.FuncMap{"join": join, "bare": bare, "fish": fish, "powershell": powershell,
		"alternatives": func(words []string) string { return strings.Join(words, "|") }}).ParseFS(templates, "*.tmpl")
	if err != nil {
		return "", err
	}
	var b strings.Builder
	err = t.ExecuteTemplate(&b, shell+".tmpl", script{values, program, manual.Below(commands, ""), values.entries(commands)})
	return b.String(), err
}

func (v Values) entries(commands []*manual.Section) (list []entry) {
	for _, c := range commands {
		e := entry{Name: c.Name, Subs: manual.Below(commands, c.Name), Arguments: v.Arguments[c.Name]}
		for _, d := range c.Flags() {
			usage := strings.TrimPrefix(d.Value+": "+d.Usage, ": ")
			for _, n := range d.Names {
				e.Flags = append(e.Flags, flag{"--"[:min(len(n), 2)] + n, usage})
			}
		}
		e.Flags = append(e.Flags, flag{"--help", "show help"})
		list = append(list, e)
	}
	return list
}

// Names are the commands.
func (s script) Names() string { return names(s.Commands) }

// Longest are the entries with those of more words before the command's own.
func (s script) Longest() []entry {
	list := slices.Clone(s.Entries)
	slices.Reverse(list)
	return list
}

// Asks reports whether the program finds the words of a flag.
func (s script) Asks(flag string) bool { return slices.Contains(s.Files, flag) }

// Sub reports whether the entry is a subcommand.
func (e entry) Sub() bool { return strings.Contains(e.Name, " ") }

// Follow is what may follow the command's name: subcommands, or arguments that are
// no files.
func (e entry) Follow() string { return strings.TrimSpace(names(e.Subs) + " " + join(e.Arguments)) }

// Seen is fish's condition that the command was typed.
func (e entry) Seen() string {
	const seen = "__fish_seen_subcommand_from "
	return seen + strings.ReplaceAll(e.Name, " ", "; and "+seen)
}

// FlagNames are the flags as they are typed.
func (e entry) FlagNames() string {
	return join(tables.Each(e.Flags, func(f flag) string { return f.Name }))
}

// Short reports whether the flag is a letter.
func (f flag) Short() bool { return !strings.HasPrefix(f.Name, "--") }

// Bare is the flag without its dashes.
func (f flag) Bare() string { return bare(f.Name) }

func bare(flag string) string { return strings.TrimLeft(flag, "-") }

func join(words []string) string { return strings.Join(words, " ") }

func names(commands []*manual.Section) string {
	return join(tables.Each(commands, (*manual.Section).Word))
}

func fish(s string) string {
	return "'" + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(s) + "'"
}

// powershell is a list of words.
func powershell(words ...string) string {
	list := tables.Each(strings.Fields(join(words)), func(w string) string { return "'" + strings.ReplaceAll(w, "'", "''") + "'" })
	return "@(" + strings.Join(list, ", ") + ")"
}
