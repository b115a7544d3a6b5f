package drivelog

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"calsplice/tables"
	"calsplice/tables/strictjson"
)

// WriteJSON writes a survey for machines.
func (s *Survey) WriteJSON(w io.Writer) error {
	type channel struct {
		Name    string   `json:"name"`
		Header  string   `json:"header"`
		Unit    string   `json:"unit"`
		Assumed bool     `json:"assumed"`
		Count   int      `json:"count"`
		Missing int      `json:"missing"`
		Min     *float64 `json:"min"`
		Max     *float64 `json:"max"`
		Mean    *float64 `json:"mean"`
	}
	type fault struct {
		Kind  string `json:"kind"`
		Count int    `json:"count"`
		Lines []int  `json:"lines"`
		Text  string `json:"text"`
	}
	doc := struct {
		Rows     int       `json:"rows"`
		Channels []channel `json:"channels"`
		Faults   []fault   `json:"faults"`
	}{s.Rows, []channel{}, []fault{}}
	orNull := func(v float64) *float64 {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil
		}
		return &v
	}
	for _, c := range s.Channels {
		doc.Channels = append(doc.Channels, channel{c.Name, c.Header, c.Unit, c.Assumed, c.Count, c.Missing,
			orNull(c.Min), orNull(c.Max), orNull(c.Mean)})
	}
	for _, f := range s.Faults {
		if f.Lines == nil {
			f.Lines = []int{}
		}
		doc.Faults = append(doc.Faults, fault(f))
	}
	return strictjson.Print(w, doc)
}

// WriteText writes a survey for a person, in 80 columns.
func (s *Survey) WriteText(w io.Writer, name string) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %d rows\n", tables.Clean(name), s.Rows)
	for _, h := range s.How {
		wrap(&b, "  ", "    ", h)
	}
	b.WriteString("\nchannel              unit       count  missing       min       max      mean\n")
	for _, c := range s.Channels {
		if c.Name != "" {
			c.row(&b, c.Name)
			from := fmt.Sprintf("from %s", tables.Quote(c.shown))
			if c.Step == c.Step {
				from += fmt.Sprintf(", every %s s, longest gap %s s", tables.Digits(c.Step, 5), tables.Digits(c.Longest, 5))
			}
			if c.Assumed {
				from += ", unit assumed"
			}
			if c.Why != "its header says so" {
				from += "; " + c.Why
			}
			wrap(&b, "    ", "    ", from)
		}
	}
	s.unrecognised(&b)
	if len(s.Derived) > 0 {
		wrap(&b, "\nalso computed: ", "  ", strings.Join(s.Derived, ", "))
	}
	for _, t := range s.Said {
		wrap(&b, "note: ", "  ", tables.Clean(t))
	}
	if len(s.Faults) == 0 {
		b.WriteString("\nno faults\n")
	} else {
		b.WriteString("\nfaults\n")
	}
	for _, f := range s.Faults {
		wrap(&b, "  ", "    ", f.String())
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (s *Survey) unrecognised(b *strings.Builder) {
	first := true
	for _, c := range s.Channels {
		if c.Name != "" {
			continue
		}
		if first {
			b.WriteString("\nnot recognised (--channel NAME=HEADER makes one a channel)\n")
			first = false
		}
		c.row(b, c.shown)
		if c.Why != "not recognised" {
			wrap(b, "    ", "    ", c.Why)
		}
	}
}

func (c *Channel) row(b *strings.Builder, name string) {
	name = tables.Clean(name)
	if utf8.RuneCountInString(name) > 20 {
		b.WriteString(cut(name, 78) + "\n")
		name = ""
	}
	pad := 20 - utf8.RuneCountInString(name)
	u := cut(tables.Clean(c.Unit), 7)
	fmt.Fprintf(b, "%s%*s %s%*s %8d %8d %9s %9s %9s\n", name, pad, "", u, 7-utf8.RuneCountInString(u), "", c.Count, c.Missing,
		figure(c.Min), figure(c.Max), figure(c.Mean))
}

func cut(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-1]) + "…"
}

func figure(v float64) string {
	if v != v {
		return ""
	}
	s := strconv.FormatFloat(v, 'f', 3, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if len(s) > 9 {
		s = strconv.FormatFloat(v, 'g', 4, 64)
	}
	if s == "-0" {
		s = "0"
	}
	return s
}

// wrap writes words in lines of up to 80 columns.
func wrap(b *strings.Builder, first, indent, text string) {
	width := utf8.RuneCountInString(strings.TrimPrefix(first, "\n"))
	b.WriteString(first)
	for i, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		switch {
		case i == 0:
		case width+1+n > 80:
			b.WriteString("\n" + indent)
			width = utf8.RuneCountInString(indent)
		default:
			b.WriteByte(' ')
			width++
		}
		b.WriteString(word)
		width += n
	}
	b.WriteByte('\n')
}
