package manual

import (
	"fmt"
	"io"
	"strings"
)

// Man writes the manual page for section 1, in the man macros of roff: the same
// words as help.
func (m *Manual) Man(w io.Writer, version string) {
	write(w, "man.tmpl", struct {
		*Manual
		Version string
	}{m, version})
}

// paragraphs is prose, and what is indented as it stands.
func paragraphs(s string) string {
	if s == "" {
		return ""
	}
	b, fixed := ".PP\n", false
	for line := range strings.SplitSeq(strings.Trim(s, "\n"), "\n") {
		if indented := strings.HasPrefix(line, " "); indented != fixed && line != "" {
			fixed = indented
			b += map[bool]string{true: ".nf\n", false: ".fi\n"}[fixed]
		}
		if line == "" {
			line = ".PP"
		} else {
			line = escaped(line)
		}
		b += line + "\n"
	}
	if fixed {
		b += ".fi\n"
	}
	return b
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

func sentence(s string) string { return escaped(strings.ToUpper(s[:1])+s[1:]) + "." }
