package main

import (
	"bufio"
	"bytes"
	"fmt"
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
	report := &view.EventReport{Log: log.Name(), Channel: channel, Above: in.number("above"), Table: t}
	list := &eventList{wanted: in.yes("json") || extension(in.text("o")) == ".json"}
	defer list.remove()
	reading, err := sift.Events(in.ctx, log, channel, in.number("above"), x, y, func(e *sift.Event) {
		if !in.yes("no-lifts") || !e.FollowsLift() {
			report.Add(e)
			list.add(e)
		}
	})
	check(err)
	in.printReading(log.Name(), reading)
	report.Rows = reading.Rows
	v := func() *view.View { return view.Events(report) }
	in.deliver(result{view: v, page: v, json: list.print, found: report.Found()})
}

// eventList keeps events as JSON in a temporary file until the log is read to its end:
// a long log has more of them than memory should hold, and a log that fails must print
// none.
type eventList struct {
	wanted bool
	file   *os.File
	text   *bufio.Writer
	err    error
}

func (l *eventList) add(e *sift.Event) {
	if !l.wanted || l.err != nil {
		return
	}
	before := ",\n    "
	if l.file == nil {
		if l.file, l.err = os.CreateTemp("", "calsplice-events-*"); l.err != nil {
			return
		}
		// Where an open file can be removed, nothing stays behind however the program ends.
		os.Remove(l.file.Name())
		before, l.text = "\n    ", bufio.NewWriter(l.file)
	}
	var one bytes.Buffer
	if l.err = strictjson.Print(&one, e); l.err == nil {
		_, l.err = fmt.Fprint(l.text, before, strings.ReplaceAll(strings.TrimSpace(one.String()), "\n", "\n    "))
	}
}

// print writes the list as strictjson.Print has it.
func (l *eventList) print(w io.Writer) error {
	if l.err != nil {
		return l.err
	}
	if l.file == nil {
		_, err := io.WriteString(w, "{\n  \"events\": []\n}\n")
		return err
	}
	if err := l.text.Flush(); err != nil {
		return err
	}
	if _, err := l.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	_, err := io.Copy(w, io.MultiReader(strings.NewReader("{\n  \"events\": ["), l.file, strings.NewReader("\n  ]\n}\n")))
	return err
}

func (l *eventList) remove() {
	if l.file != nil {
		l.file.Close()
		os.Remove(l.file.Name())
	}
}
