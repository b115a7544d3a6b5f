package manual

import (
	"fmt"
	"io"
	"strings"
)

// Man writes the manual page for section 1, in the man macros of roff: the same
// words as help.
func (m *Manual) Man(w io.Writer, version string) error {
	var b strings.Builder
	fmt.Fprintf(&b, ".TH %s 1 \"\" %s\n", strings.ToUpper(m.Name), quoted(m.Name+" "+version))
	fmt.Fprintf(&b, ".SH NAME\n%s \\- %s\n", escaped(m.Name), escaped(m.Usage))
	fmt.Fprintf(&b, ".SH SYNOPSIS\n.B %s\n.I COMMAND\n[\\fIflags\\fR] [\\fIfiles\\fR]\n", escaped(m.Name))
	b.WriteString(".SH COMMANDS\n")
	for _, s := range m.Commands {
		m.command(&b, s)
	}
	for _, t := range m.Topics {
		fmt.Fprintf(&b, ".SH %s\n%s.\n", strings.ToUpper(escaped(t.Name)), escaped(upper(t.Usage)))
		paragraphs(&b, t.text())
		options(&b, t.Flags())
	}
	b.WriteString(".SH EXIT STATUS\n0 nothing to report, 1 something to report, 2 an error, 130 interrupted, 143 terminated.\n")
	_, err := io.WriteString(w, b.String())
	return err
}

func (m *Manual) command(b *strings.Builder, s *Section) {
	fmt.Fprintf(b, ".SS %s\n%s.\n.PP\n.B %s\n", quoted(s.Name), escaped(upper(s.Usage)), escaped(m.synopsis(s)))
	paragraphs(b, s.Text)
	for _, group := range groups(s.Flags()) {
		if name := m.explains(group[0].Topic); name != "" {
			fmt.Fprintf(b, ".PP\nFlags about %s stand under %s.\n", escaped(group[0].Topic), strings.ToUpper(escaped(name)))
			continue
		}
		options(b, group)
	}
}

func options(b *strings.Builder, flags []Declared) {
	for _, d := range flags {
		fmt.Fprintf(b, ".TP\n.B %s\n%s\n", escaped(d.Typed()), escaped(d.does()))
	}
}

// paragraphs writes prose, and what is indented as it stands.
func paragraphs(b *strings.Builder, s string) {
	if s == "" {
		return
	}
	b.WriteString(".PP\n")
	fixed := false
	for line := range strings.SplitSeq(strings.Trim(s, "\n"), "\n") {
		if indented := strings.HasPrefix(line, " "); indented != fixed && line != "" {
			fixed = indented
			b.WriteString(map[bool]string{true: ".nf\n", false: ".fi\n"}[fixed])
		}
		if line == "" {
			b.WriteString(".PP\n")
			continue
		}
		b.WriteString(escaped(line) + "\n")
	}
	if fixed {
		b.WriteString(".fi\n")
	}
}

// escaped keeps text from being read as a request or an escape.
func escaped(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(s)
	if strings.HasPrefix(s, ".") || strings.HasPrefix(s, "'") {
		s = `\&` + s
	}
	var b strings.Builder
	for _, r := range s {
		if r < 0x80 {
			b.WriteRune(r)
		} else {
			fmt.Fprintf(&b, `\[u%04X]`, r) // whatever the terminal's encoding
		}
	}
	return b.String()
}

func quoted(s string) string { return `"` + strings.ReplaceAll(escaped(s), `"`, `""`) + `"` }

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
