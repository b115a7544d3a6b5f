// Package manual writes the program's help from the texts of help.txt: the
// overview, a command's help, topics, and the manual page of Unix systems. Help is
// at most 100 columns wide. Flags that a topic explains are listed there, once for
// all commands.
package manual

import (
	"embed"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/template"

	"github.com/rivo/uniseg"

	"calsplice/cmd/calsplice/text"
	"calsplice/tables"
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

// All is the text with what is listed below it.
func (t Topic) All() string { return t.Text + t.List }

// Names lists the commands and topics that there is help for.
func (m *Manual) Names() []string {
	return tables.Each(append(Below(m.Commands, ""), m.Pages()...), func(s *Section) string { return s.Name })
}

// Pages are the topics' sections.
func (m *Manual) Pages() []*Section {
	return tables.Each(m.Topics, func(t Topic) *Section { return t.Section })
}

//go:embed *.tmpl
var templates embed.FS

// write sets a page by its template.
func write(w io.Writer, name string, of any) {
	t := template.New("").Funcs(template.FuncMap{"upper": strings.ToUpper, "escaped": escaped, "quoted": quoted, "sentence": sentence, "paragraphs": paragraphs,
		"groups": groups, "below": Below, "wrap": wrap, "prose": prose, "list": list, "flags": flags,
		"topic": func(group []Declared) string { return group[0].Topic },
		"help": func(flags []Declared) []Declared {
			return append(flags, Declared{Names: []string{"help", "h"}, Usage: "show help"})
		}})
	var page strings.Builder
	if err := template.Must(t.ParseFS(templates, "*.tmpl")).ExecuteTemplate(&page, name, of); err != nil {
		panic(err) // the program's own texts
	}
	io.WriteString(w, page.String()) // standard output remembers what could not be written
}

// Show writes a command's help, or the overview where it is that of no command.
func (m *Manual) Show(w io.Writer, s *Section) {
	name := "command"
	if s.Name == "" {
		name = "overview"
	}
	write(w, name, struct {
		*Manual
		Of *Section
	}{m, s})
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
	i := slices.IndexFunc(m.Topics, func(t Topic) bool { return t.Name == name })
	if i >= 0 {
		write(w, "topic", m.Topics[i])
	}
	return i >= 0
}

// set is what a printer writes, in the width.
func set(lines func(p *text.Printer)) string {
	var b strings.Builder
	lines(&text.Printer{W: &b, Width: width})
	return b.String()
}

func wrap(words ...any) string {
	return set(func(p *text.Printer) { p.Wrap("", fmt.Sprint(words...)) })
}

// prose is paragraphs in the width; lines that are indented, such as examples and
// tables, stay as they are.
func prose(s string) string {
	return set(func(p *text.Printer) {
		var paragraph []string
		flush := func() {
			if paragraph != nil {
				p.Wrap("", strings.Join(paragraph, " "))
				paragraph = nil
			}
		}
		for line := range strings.SplitSeq(strings.Trim(s, "\n"), "\n") {
			if line != "" && line[0] != ' ' {
				paragraph = append(paragraph, line)
				continue
			}
			flush()
			p.Line("%s", line)
		}
		flush()
	})
}

// list is commands and what they are for, and flags what flags do.
func list(sections []*Section) string {
	return columns(tables.Each(sections, func(s *Section) [2]string { return [2]string{s.Word(), s.Usage} }))
}

func flags(list []Declared) string {
	return columns(tables.Each(list, func(d Declared) [2]string { return [2]string{d.Typed(), d.Does()} }))
}

// columns are names and what they are for, side by side.
func columns(rows [][2]string) string {
	const most = 28
	wide := 0
	for _, r := range rows {
		if w := uniseg.StringWidth(r[0]); w <= most {
			wide = max(wide, w)
		}
	}
	return set(func(p *text.Printer) {
		for _, r := range rows {
			lead := "  " + r[0] + strings.Repeat(" ", max(wide-uniseg.StringWidth(r[0]), 0)) + "  "
			if uniseg.StringWidth(r[0]) > wide {
				p.Line("  %s", r[0])
				lead = strings.Repeat(" ", wide+4)
			}
			p.Wrap(lead, r[1])
		}
	})
}
