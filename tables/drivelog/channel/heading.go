package channel

import (
	"strings"

	"calsplice/tables/drivelog/dialect"
	"calsplice/tables/unit"
)

// Heading is a column's header taken apart.
type Heading struct {
	Raw     string // as the log writes it but for blanks around it: what other readers of the file look it up by
	Text    string // the same for people: blanks around taken off, double encoding undone
	Name    string // without its unit
	Unit    string // as written; "" where the header gives none
	Channel string // "" where it is not recognised
	Lesser  bool
	Odd     string // what stands in brackets and is no known unit
}

// ReadHeading takes a header apart: "Engine speed (rpm)", "MAF[g/sec]",
// "Coolant, degC", "throttle_pct". Brackets that hold no known unit belong to
// the name.
func ReadHeading(text string) Heading {
	h := Heading{Raw: text, Text: dialect.Mend(strings.TrimSpace(text))}
	h.Name = h.Text
	if name, inside, ok := Brackets(h.Text); ok {
		_, isUnit := unit.Parse(inside)
		switch {
		case inside == "" || isUnit:
			h.Name, h.Unit = name, inside
		default:
			if _, _, whole := Recognise(h.Text); !whole {
				h.Odd = inside
				if _, _, without := Recognise(name); without {
					h.Name, h.Unit = name, inside
				}
			}
		}
	} else if i := strings.LastIndexByte(h.Text, ','); i > 0 {
		if u := strings.TrimSpace(h.Text[i+1:]); dialect.IsUnit(u) {
			h.Name, h.Unit = strings.TrimSpace(h.Text[:i]), u
		}
	}
	h.Channel, h.Lesser, _ = Recognise(h.Name)
	if h.Unit == "" {
		h.lastWordUnit()
	}
	h.impliedUnit()
	return h
}

// Brackets takes the last pair of brackets off a header.
func Brackets(s string) (name, inside string, ok bool) {
	if s == "" {
		return "", "", false
	}
	// Only brackets at the end hold a unit; pairs inside them belong to it.
	closing := s[len(s)-1]
	pair := strings.IndexByte(")]}", closing)
	if pair < 0 {
		return "", "", false
	}
	opening := "([{"[pair]
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
func (h *Heading) lastWordUnit() {
	i := strings.LastIndexAny(h.Name, " _-")
	if i <= 0 || i+1 == len(h.Name) {
		return
	}
	last, before := h.Name[i+1:], h.Name[:i]
	// These are units by their letters, and parts of names in headers.
	switch strings.ToLower(last) {
	case "1", "ratio", "factor", "position", "a", "b":
		return
	}
	if !dialect.IsUnit(last) {
		return
	}
	name, lesser, ok := Recognise(before)
	if !ok {
		return
	}
	// "Throttle position" ends in no unit, although "position" could be one of nothing: the
	// unit has to measure the channel that is left.
	if c, _ := Lookup(name); name == "time" || c.unit != "" {
		if _, fits := c.convert(last); fits || strings.EqualFold(last, "AFR") && c.unit == "lambda" {
			h.Channel, h.Lesser, h.Unit = name, lesser, last
		}
	}
}

// impliedUnit takes the unit from a name that is one: "AFR", "Milliseconds",
// "RPM x1000".
func (h *Heading) impliedUnit() {
	if h.Channel == "" {
		return
	}
	words := strings.Join(WordsOf(h.Name), " ") // with "AFR" spelled out
	// A multiplier wins over a unit in brackets: "RPM x1000 (rpm)" counts thousands.
	switch {
	case strings.Contains(words, "x1000"):
		h.Unit = "krpm"
	case h.Unit != "":
	case strings.Contains(words, "milliseconds"):
		h.Unit = "ms"
	case h.Channel == "time" && strings.Contains(words, "seconds"):
		h.Unit = "s"
	case strings.HasPrefix(h.Channel, "lambda") && strings.Contains(words, "air fuel ratio"):
		h.Unit = "AFR"
	}
}
