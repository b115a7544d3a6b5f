package drivelog

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog/dialect"
)

// Clock tells the times of a log as people find them in it: as hh:mm:ss where it gives the
// time of day, and in seconds where it counts them. The zero value counts.
type Clock struct {
	OfDay bool
	Ahead float64 // s that the log's time of day is ahead of its times, which are of UTC where it names a zone
	first float64 // time of its first row
}

const day = 86400.0

// Clock is how people are told the log's times.
func (l *Log) Clock() Clock {
	if l.clock == nil || !l.clock.Clock.OfDay() {
		return Clock{}
	}
	return Clock{OfDay: true, Ahead: l.clock.Zone, first: l.clock.First}
}

// Text is a time of the log, to the millisecond.
func (c Clock) Text(t float64) string {
	if !c.OfDay {
		return number(t) + " s"
	}
	const msADay = 86_400_000
	ms := (int64(math.Round((t+c.Ahead)*1000))%msADay + msADay) % msADay
	text := fmt.Sprintf("%02d:%02d:%02d.%03d", ms/3_600_000, ms/60_000%60, ms/1000%60, ms%1000)
	return strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
}

// Span is from one time to another.
func (c Clock) Span(from, to float64) string {
	if !c.OfDay {
		return number(from) + " to " + c.Text(to)
	}
	return c.Text(from) + " to " + c.Text(to)
}

func number(t float64) string { return tables.Shown(math.Round(t*1000) / 1000) }

// A time of day is looked for from so many seconds before the first row of a log on.
const before = 6 * 3600.0

// Read is the time of the log that a text means: seconds, or a time of day, which is the one
// from six hours before the log's beginning to eighteen after it.
func (c Clock) Read(text string) (float64, error) {
	if v, err := strconv.ParseFloat(text, 64); err == nil && v-v == 0 {
		return v, nil
	}
	v, ok := dialect.TimeOfDay(text)
	switch {
	case !ok:
		return 0, fmt.Errorf("is %q, expected seconds or hh:mm:ss", text)
	case !c.OfDay:
		return 0, fmt.Errorf("is %q, and the log's clock counts seconds: give those", text)
	}
	v -= c.Ahead
	return v + math.Ceil((c.first-before-v)/day)*day, nil
}

// OneDay reports whether a time is so soon after the log's beginning that [Clock.Read] finds
// its time of day.
func (c Clock) OneDay(t float64) bool { return t < c.first-before+day }
