package main

import (
	"bufio"
	"bytes"
	"cmp"
	"io"
	"os"
	"strings"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/sift"
	"calsplice/tables"
	"calsplice/tables/strictjson"
)

func events(in *input) {
	channel := "knock_retard"
	names := in.chosenChannels()
	refuse(len(names) > 1, "events looks at one channel, not %d", len(names))
	if len(names) == 1 {
		channel = names[0]
	}
	opt := in.logOptions()
	var t *tables.Table
	var x, y *axes.Axis
	if in.text("axes") != "" {
		t, x, y = in.tableAxes(&opt)
	}
	log := in.log(opt)
	defer log.Close()
	if in.yes("no-lifts") && !log.Has("throttle") {
		in.caution(log.Name() + ": no throttle is logged: --no-lifts leaves nothing out")
	}
	report := &view.EventReport{Log: log.Name(), Channel: channel, Clock: log.Clock(), Above: in.number("above"), Table: t, Throttle: log.Has("throttle")}
	var list *eventList
	if in.yes("json") || extension(in.text("o")) == ".json" {
		list = newEventList()
		defer list.remove()
	}
	reading := must(sift.Events(in.ctx, log, channel, in.number("above"), x, y, func(e *sift.Event) {
		if !in.yes("no-lifts") || !e.FollowsLift() {
			report.Add(e)
			list.add(e)
		}
	}))
	in.printReading(log.Name(), reading)
	report.Rows = reading.Rows
	in.deliver(result{pages: true, view: func() *view.View { return view.Events(report) }, json: list.print, found: report.Found()})
}

// eventList keeps events as JSON in a temporary file until the log is read to its end:
// a long log has more of them than memory should hold, and a log that fails must print
// none. Nil keeps nothing.
type eventList struct {
	file    *os.File
	text    *bufio.Writer // keeps the first error of the file
	between string        // before the next event
	err     error         // of an event
}

func newEventList() *eventList {
	file := must(os.CreateTemp("", "calsplice-events-*"))
	// Where an open file can be removed, nothing stays behind however the program ends.
	os.Remove(file.Name())
	l := &eventList{file: file, text: bufio.NewWriter(file)}
	l.text.WriteString("{\n  \"events\": [")
	return l
}

func (l *eventList) add(e *sift.Event) {
	if l == nil || l.err != nil {
		return
	}
	var one bytes.Buffer
	l.err = strictjson.Print(&one, e)
	l.text.WriteString(l.between + "\n    " + strings.ReplaceAll(strings.TrimSpace(one.String()), "\n", "\n    "))
	l.between = ","
}

// print ends the list and writes it as strictjson.Print has it.
func (l *eventList) print(w io.Writer) error {
	if l.between != "" {
		l.text.WriteString("\n  ")
	}
	l.text.WriteString("]\n}\n")
	if err := cmp.Or(l.err, l.text.Flush()); err != nil {
		return err
	}
	if _, err := l.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	_, err := io.Copy(w, l.file)
	return err
}

func (l *eventList) remove() {
	l.file.Close()
	os.Remove(l.file.Name())
}
