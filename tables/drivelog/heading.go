package drivelog

import (
	"strings"

	"calsplice/tables/unit"
)

// heading is a column's header taken apart.
type heading struct {
	raw     string // as the log writes it but for blanks around it: what other readers of the file look it up by
	text    string // the same for people: blanks around taken off, double encoding undone
	name    string // without its unit
	unit    string // as written; "" where the header gives none
	channel string // "" where it is not recognised
	lesser  bool
	odd     string // what stands in brackets and is no known unit
}

// readHeading takes a header apart: "Engine speed (rpm)", "MAF[g/sec]",
// "Coolant, degC", "throttle_pct". Brackets that hold no known unit belong to
// the name.
func readHeading(text string) heading {
	h := heading{raw: text, text: mend(strings.TrimSpace(text))}
	h.name = h.text
	if name, inside, ok := brackets(h.text); ok {
		_, isUnit := unit.Parse(inside)
		switch {
		case inside == "" || isUnit:
			h.name, h.unit = name, inside
		default:
			if _, _, whole := recognise(h.text); !whole {
				h.odd = inside
				if _, _, without := recognise(name); without {
					h.name, h.unit = name, inside
				}
			}
		}
	} else if i := strings.LastIndexByte(h.text, ','); i > 0 {
		if u := strings.TrimSpace(h.text[i+1:]); isUnit(u) {
			h.name, h.unit = strings.TrimSpace(h.text[:i]), u
		}
	}
	h.channel, h.lesser, _ = recognise(h.name)
	if h.unit == "" {
		h.lastWordUnit()
	}
	h.impliedUnit()
	return h
}

// brackets takes the last pair of brackets off a header.
func brackets(s string) (name, inside string, ok bool) {
	if s == "" {
		return "", "", false
	}
	closing := s[len(s)-1]
	var opening byte
	switch closing {
	case ')':
		opening = '('
	case ']':
		opening = '['
	case '}':
		opening = '{'
	default:
		return "", "", false
	}
	depth := 0
	for i := len(s) - 1; i >= 0; i-- {
		switch s[i] {
		case closing:
			depth++
		case opening:
			if depth--; depth == 0 {
				if strings.TrimSpace(s[:i]) == "" {
					return "", "", false
				}
				return strings.TrimSpace(s[:i]), strings.TrimSpace(s[i+1 : len(s)-1]), true
			}
		}
	}
	return "", "", false
}

// lastWordUnit finds a unit that stands as the header's last word, where the
// words before it name a channel that it measures.
func (h *heading) lastWordUnit() {
	i := strings.LastIndexAny(h.name, " _-")
	if i <= 0 || i+1 == len(h.name) {
		return
	}
	last, before := h.name[i+1:], h.name[:i]
	switch strings.ToLower(last) {
	case "1", "ratio", "factor", "position", "a", "b":
		return
	}
	if !isUnit(last) {
		return
	}
	name, lesser, ok := recognise(before)
	if !ok {
		return
	}
	if c, _ := lookup(name); name == "time" || c.unit != "" {
		if _, fits := c.convert(last); fits || strings.EqualFold(last, "AFR") && c.unit == "lambda" {
			h.channel, h.lesser, h.unit = name, lesser, last
		}
	}
}

// impliedUnit takes the unit from a name that is one: "AFR", "Milliseconds",
// "RPM x1000".
func (h *heading) impliedUnit() {
	if h.channel == "" {
		return
	}
	words := strings.Join(wordsOf(h.name), " ")
	switch {
	case strings.Contains(words, "x1000"):
		h.unit = "krpm"
	case h.unit != "":
	case strings.Contains(words, "milliseconds"):
		h.unit = "ms"
	case h.channel == "time" && strings.Contains(words, "seconds"):
		h.unit = "s"
	case strings.HasPrefix(h.channel, "lambda") && (strings.Contains(" "+words+" ", " afr ") || strings.Contains(words, "air fuel ratio")):
		h.unit = "AFR"
	}
}
