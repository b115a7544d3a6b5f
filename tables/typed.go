package tables

import (
	"cmp"
	"fmt"
	"math"
	"strings"
)

// What a person types for a field in one piece of text: the other direction of
// the field's Text.

func parseCount(text string) (int, error) {
	v, err := ParseValue(text)
	switch {
	case err != nil:
		return 0, err
	case v != math.Trunc(v) || math.Abs(v) > math.MaxInt32:
		return 0, fmt.Errorf("%s, expected a whole number", text)
	}
	return int(v), nil
}

// parseLimits reads "LOW,HIGH".
func parseLimits(text string) (*Limits, error) {
	low, high, two := strings.Cut(text, ",")
	if !two || strings.Contains(high, ",") {
		return nil, fmt.Errorf("%s, expected LOW,HIGH such as 0,12.5", Quote(text))
	}
	from, err := ParseValue(strings.TrimSpace(low))
	to, errTo := ParseValue(strings.TrimSpace(high))
	l := &Limits{from, to}
	return l, cmp.Or(err, errTo, l.validate())
}

func parseMeasure(text string) (*Measure, error) {
	number, unit := cutNumber(text)
	v, err := ParseValue(number)
	switch {
	case err != nil:
		return nil, err
	case unit == "":
		return nil, fmt.Errorf("%s without a unit, expected one such as %q", number, number+" L")
	}
	return &Measure{v, unit}, nil
}

// parseRail reads "380 kPa atmosphere", also with "relative to" before what it is
// relative to, as [RailPressure.Text] writes it.
func parseRail(text string) (*RailPressure, error) {
	number, rest := cutNumber(text)
	v, err := ParseValue(number)
	if err != nil {
		return nil, err
	}
	words := strings.Fields(strings.Replace(rest, "relative to", "", 1))
	if len(words) < 2 {
		return nil, fmt.Errorf("%s, expected a pressure, its unit and %s, %s or %s, such as %q", Quote(text), Atmosphere, Manifold, Absolute, number+" kPa atmosphere")
	}
	last := len(words) - 1
	return &RailPressure{v, strings.Join(words[:last], " "), Reference(words[last])}, nil
}

// cutNumber parts a number from what follows it, with or without a blank.
func cutNumber(text string) (number, rest string) {
	end := strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("+-.0123456789eE", r) })
	if i := strings.IndexAny(text, " \t"); i >= 0 {
		end = i
	}
	if end < 0 {
		return text, ""
	}
	return text[:end], strings.TrimSpace(text[end:])
}
