// Package manual writes the program's help from its commands and the texts of
// help.txt: the overview, a command's help, topics, and the manual page of Unix
// systems. Help is at most
// 100 columns wide. Flags of a category that a topic explains are listed there,
// once for all commands.
package manual

import (
	"fmt"
	"io"
	"strings"

	"github.com/rivo/uniseg"
	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/text"
)

// width is the number of columns of help.
const width = 100

// Manual is what help is written from.
type Manual struct {
	Name, Usage string
	Commands    []*cli.Command
	Topics      []Topic
}

// Topic is a page of help about something that several commands share. List stands
// behind its text.
type Topic struct{ Name, List string }

func (t *Topic) text() string { return Of(t.Name).Text + t.List }

func (t *Topic) usage() string { return Of(t.Name).Usage }

func (t *Topic) flags() (list []cli.Flag) {
	for _, d := range Of(t.Name).Flags() {
		list = append(list, &cli.StringFlag{Name: d.Names[0], Usage: d.Words()})
	}
	return list
}

// Names lists the commands and topics that there is help for.
func (m *Manual) Names() []string {
	var list []string
	for _, c := range m.Commands {
		list = append(list, c.Name)
	}
	for _, t := range m.Topics {
		list = append(list, t.Name)
	}
	return list
}

// Overview lists the commands and the topics.
func (m *Manual) Overview(w io.Writer) {
	p := &text.Printer{W: w, Width: width}
	p.Wrap("", m.Name+": "+m.Usage)
	p.Line("\n  %s COMMAND [flags] [files]\n", m.Name)
	var rows [][2]string
	for _, c := range m.Commands {
		rows = append(rows, [2]string{c.Name, c.Usage})
	}
	columns(p, rows)
	p.Line("\n%s help COMMAND, or %s COMMAND --help, has each command's flags and an example.", m.Name, m.Name)
	p.Line("%s help TOPIC:\n", m.Name)
	rows = nil
	for _, t := range m.Topics {
		rows = append(rows, [2]string{t.Name, t.usage()})
	}
	columns(p, rows)
}

// Command writes a command's help; name is what is typed for it.
func (m *Manual) Command(w io.Writer, name string, c *cli.Command) {
	p := &text.Printer{W: w, Width: width}
	p.Wrap("", name+": "+c.Usage)
	p.Line("\n  %s\n", strings.TrimSpace(name+" "+flagsWord(c)+c.ArgsUsage))
	prose(p, Of(strings.TrimPrefix(name, m.Name+" ")).Text)
	if len(c.Subcommands) > 0 {
		var rows [][2]string
		for _, s := range c.Subcommands {
			rows = append(rows, [2]string{s.Name, s.Usage})
		}
		p.Line("")
		columns(p, rows)
	}
	elsewhere := map[string][]cli.Flag{}
	for _, group := range categories(c.Flags) {
		if t := m.explained(group.name); t != nil {
			elsewhere[t.Name] = append(elsewhere[t.Name], group.flags...)
			continue
		}
		if group.name != "" {
			p.Line("\n%s:", group.name)
		} else {
			p.Line("")
		}
		columns(p, rows(group.flags))
	}
	for _, t := range m.Topics {
		if list := elsewhere[t.Name]; len(list) > 0 {
			p.Line("")
			p.Wrap("", fmt.Sprintf("%d more flags are about %s: %s help %s", len(list), t.usage(), m.Name, t.Name))
		}
	}
}

func flagsWord(c *cli.Command) string {
	switch {
	case len(c.Subcommands) > 0:
		return "COMMAND"
	case len(c.Flags) > 0:
		return "[flags] "
	}
	return ""
}

func (m *Manual) explained(category string) *Topic {
	for i := range m.Topics {
		if t := &m.Topics[i]; category != "" && t.usage() == category {
			return t
		}
	}
	return nil
}

// Topic writes a topic; it reports whether there is one of that name.
func (m *Manual) Topic(w io.Writer, name string) bool {
	for _, t := range m.Topics {
		if t.Name == name {
			p := &text.Printer{W: w, Width: width}
			p.Wrap("", t.usage())
			p.Line("")
			prose(p, t.text())
			if list := t.flags(); list != nil {
				p.Line("")
				columns(p, rows(list))
			}
			return true
		}
	}
	return false
}

// prose writes paragraphs in the width; lines that are indented, such as
// examples and tables, stay as they are.
func prose(p *text.Printer, s string) {
	var paragraph []string
	flush := func() {
		if paragraph != nil {
			p.Wrap("", strings.Join(paragraph, " "))
			paragraph = nil
		}
	}
	for line := range strings.SplitSeq(strings.Trim(s, "\n"), "\n") {
		switch {
		case line == "":
			flush()
			p.Line("")
		case line[0] == ' ':
			flush()
			p.Line("%s", line)
		default:
			paragraph = append(paragraph, line)
		}
	}
	flush()
}

type category struct {
	name  string
	flags []cli.Flag
}

// categories are the flags by category, those without one first.
func categories(flags []cli.Flag) []category {
	list := []category{{}}
	for _, f := range flags {
		name := ""
		if c, ok := f.(cli.CategorizableFlag); ok {
			name = c.GetCategory()
		}
		at := -1
		for i := range list {
			if list[i].name == name {
				at = i
			}
		}
		if at < 0 {
			at, list = len(list), append(list, category{name: name})
		}
		list[at].flags = append(list[at].flags, f)
	}
	if list[0].flags == nil {
		list = list[1:]
	}
	return list
}

func rows(flags []cli.Flag) [][2]string {
	var list [][2]string
	for _, f := range flags {
		name, usage := Flag(f)
		list = append(list, [2]string{name, usage})
	}
	return list
}

// Flag is a flag as it is typed, and what it does. The usage of a flag with a
// value begins with what to type for it: "`FILE`: the result".
func Flag(f cli.Flag) (typed, usage string) {
	d, ok := f.(cli.DocGenerationFlag)
	if !ok {
		return "", ""
	}
	usage = d.GetUsage()
	value := ""
	if rest, ok := strings.CutPrefix(usage, "`"); ok && d.TakesValue() {
		value, usage, _ = strings.Cut(rest, "`: ")
		value = " " + value
	}
	var names []string
	for _, n := range f.Names() {
		if len(n) == 1 {
			names = append(names, "-"+n)
		} else {
			names = append(names, "--"+n)
		}
	}
	if v := strings.Trim(d.GetDefaultText(), `"`); v != "" && v != "false" && d.TakesValue() {
		usage += " (default: " + v + ")"
	}
	return strings.Join(names, ", ") + value, usage
}

// columns writes names and what they are for, side by side.
func columns(p *text.Printer, rows [][2]string) {
	const most = 28
	wide := 0
	for _, r := range rows {
		if w := uniseg.StringWidth(r[0]); w <= most {
			wide = max(wide, w)
		}
	}
	for _, r := range rows {
		lead := "  " + r[0] + strings.Repeat(" ", max(wide-uniseg.StringWidth(r[0]), 0)) + "  "
		if uniseg.StringWidth(r[0]) > wide {
			p.Line("  %s", r[0])
			lead = strings.Repeat(" ", wide+4)
		}
		p.Wrap(lead, r[1])
	}
}
