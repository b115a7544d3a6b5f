// Package manual writes the program's help from the texts of help.txt: the
// overview, a command's help, topics, and the manual page of Unix systems. Help is
// at most 100 columns wide. Flags that a topic explains are listed there, once for
// all commands.
package manual

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/rivo/uniseg"

	"calsplice/cmd/calsplice/text"
)

// width is the number of columns of help.
const width = 100

// Manual is what help is written from.
type Manual struct {
	Name, Usage string
	Commands    []*Section // those of a group too
	Topics      []Topic
}

// Topic is a page of help about something that several commands share. List stands
// behind its text.
type Topic struct {
	*Section
	List string
}

func (t Topic) All() string { return t.Text + t.List }

// Names lists the commands and topics that there is help for.
func (m *Manual) Names() []string {
	var list []string
	for _, s := range Below(m.Commands, "") {
		list = append(list, s.Name)
	}
	for _, t := range m.Topics {
		list = append(list, t.Name)
	}
	return list
}

// overview lists the commands and the topics.
func (m *Manual) overview(w io.Writer) {
	p := &text.Printer{W: w, Width: width}
	p.Wrap("", m.Name+": "+m.Usage)
	p.Line("\n  %s COMMAND [flags] [files]\n", m.Name)
	list(p, Below(m.Commands, ""))
	p.Line("\n%s help COMMAND, or %s COMMAND --help, has each command's flags and an example.", m.Name, m.Name)
	p.Line("%s help TOPIC:\n", m.Name)
	var topics []*Section
	for _, t := range m.Topics {
		topics = append(topics, t.Section)
	}
	list(p, topics)
}

// Show writes a command's help, or the overview where it is that of no command.
func (m *Manual) Show(w io.Writer, s *Section) {
	if s.Name == "" {
		m.overview(w)
		return
	}
	p := &text.Printer{W: w, Width: width}
	p.Wrap("", m.Name+" "+s.Name+": "+s.Usage)
	p.Line("\n  %s", m.Synopsis(s))
	if s.Text != "" {
		p.Line("")
		prose(p, s.Text)
	}
	if below := Below(m.Commands, s.Name); below != nil {
		p.Line("")
		list(p, below)
	}
	var elsewhere []string
	for _, group := range groups(append(s.Flags(), Declared{Names: []string{"help", "h"}, Usage: "show help"})) {
		topic := group[0].Topic
		if name := m.Explains(topic); name != "" {
			elsewhere = append(elsewhere, fmt.Sprintf("%d more flags are about %s: %s help %s", len(group), topic, m.Name, name))
			continue
		}
		p.Line("")
		if topic != "" {
			p.Line("%s:", topic)
		}
		flags(p, group)
	}
	for _, line := range elsewhere {
		p.Line("")
		p.Wrap("", line)
	}
}

// groups are the flags by what they are about, the command's own first.
func groups(flags []Declared) (list [][]Declared) {
	for _, d := range flags {
		i := slices.IndexFunc(list, func(group []Declared) bool { return group[0].Topic == d.Topic })
		switch {
		case i >= 0:
			list[i] = append(list[i], d)
		case d.Topic == "":
			list = slices.Insert(list, 0, []Declared{d})
		default:
			list = append(list, []Declared{d})
		}
	}
	return list
}

// Synopsis is what is typed for a command.
func (m *Manual) Synopsis(s *Section) string {
	typed := m.Name + " " + s.Name
	switch {
	case Below(m.Commands, s.Name) != nil:
		typed += " COMMAND"
	case len(s.Flags()) > 0:
		typed += " [flags]"
	}
	return strings.TrimSpace(typed + " " + s.Arguments)
}

// Explains is the topic that flags are about; "" where it is none.
func (m *Manual) Explains(what string) string {
	for _, t := range m.Topics {
		if t.Usage == what {
			return t.Name
		}
	}
	return ""
}

// Topic writes a topic; it reports whether there is one of that name.
func (m *Manual) Topic(w io.Writer, name string) bool {
	for _, t := range m.Topics {
		if t.Name == name {
			p := &text.Printer{W: w, Width: width}
			p.Wrap("", t.Usage)
			p.Line("")
			prose(p, t.All())
			if list := t.Flags(); list != nil {
				p.Line("")
				flags(p, list)
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

// list writes commands and what they are for, and flags what flags do.
func list(p *text.Printer, sections []*Section) {
	var rows [][2]string
	for _, s := range sections {
		rows = append(rows, [2]string{s.Word(), s.Usage})
	}
	columns(p, rows)
}

func flags(p *text.Printer, list []Declared) {
	var rows [][2]string
	for _, d := range list {
		rows = append(rows, [2]string{d.Typed(), d.Does()})
	}
	columns(p, rows)
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
