package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"calsplice/cmd/calsplice/demo"
	"calsplice/cmd/calsplice/page"
	"calsplice/cmd/calsplice/text"
	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// story is the demo under way. Steps run inside its folder, so that no result
// names a path.
type story struct {
	ctx   context.Context
	out   io.Writer
	steps []view.Step // what the index says of each
	files int         // outputs that stand in a file
}

// runDemo does the job in a folder of its own first: a folder that holds other
// files of the same names is left as it is.
func runDemo(in *input) {
	folder := in.text("o")
	made := must(os.MkdirTemp("", "calsplice-demo-*"))
	defer os.RemoveAll(made)
	var said bytes.Buffer
	(&story{ctx: in.ctx, out: &said}).within(made)
	check(in.ctx.Err())
	handOver(made, folder)
	fmt.Fprintf(&said, "\nEverything is in %s. Open %s in a browser.\n", folder, filepath.Join(folder, "index.html"))
	must(in.stdout.Write(said.Bytes()))
}

// within tells the story inside a folder.
func (s *story) within(folder string) {
	back := must(os.Getwd())
	check(os.Chdir(folder))
	defer os.Chdir(back)
	for line := range strings.Lines(demo.Story) {
		if line = strings.TrimSpace(line); line != "" {
			err := s.tell(line)
			refuse(err != nil, "the demo's own %q: %w", line, err)
		}
	}
	check(s.index())
}

// handOver copies the files of one folder to another, all of them or, where one
// would replace a file of other content, none.
func handOver(made, folder string) {
	fresh := map[string][]byte{}
	for _, e := range must(os.ReadDir(made)) {
		data := must(os.ReadFile(filepath.Join(made, e.Name())))
		to := filepath.Join(folder, e.Name())
		switch there, err := os.ReadFile(to); {
		case errors.Is(err, fs.ErrNotExist):
			fresh[to] = data
		case err != nil:
			check(tablefile.Plain(to, err))
		case !bytes.Equal(there, data):
			check(&tables.Fault{File: to, What: "is there already, and not as this demo would write it: name another folder with -o"})
		}
	}
	if err := os.MkdirAll(folder, 0o777); err != nil {
		check(tablefile.Plain(folder, err))
	}
	for _, to := range slices.Sorted(maps.Keys(fresh)) {
		check(tablefile.Replace(to, nil, func(w io.Writer) error { _, err := w.Write(fresh[to]); return err }))
	}
}

// tell does a line of [demo.Story].
func (s *story) tell(line string) error {
	return attempt(func() {
		r := csv.NewReader(strings.NewReader(line))
		r.Comma = ' '
		words := must(r.Read())
		s.do(line, words[0], words[1:])
	})
}

// do does what a verb says.
func (s *story) do(line, verb string, args []string) {
	switch verb {
	case "#":
		fmt.Fprintf(s.out, "\n%s\n", line)
		s.steps = append(s.steps, view.Step{Heading: line[2:]})
	case ">":
		s.step().Text = append(s.step().Text, line[2:])
	case "run":
		s.show(strings.TrimPrefix(line, "run "+args[0]+" "), args)
	case "quietly":
		s.run(args[0], args[1:])
	case "page":
		s.link(args[1], args[2], "")
		s.run(args[0], append(args[3:], "-o", args[1]))
	case "link":
		s.link(args[0], args[1], "")
	case "trims":
		s.trims(args[0])
	case "invent":
		invent(args[0], args[1], args[2:]...)
	case "drive":
		drive(args[0], args[1], args[2])
	default:
		refuse(true, "no such verb")
	}
}

// invent writes a document, made of another one where that is named.
func invent(file, name string, from ...string) {
	var base *tables.Calibration
	for _, f := range from {
		base = must(tablefile.Read(f, nil))
	}
	check(tablefile.Write(file, must(demo.Invent(name, base)), tablefile.Options{}))
}

// drive writes a drive's log under the calibration in a file.
func drive(log, trip, under string) {
	fitted, cal := must(tablefile.Read("van-fitted.json", nil)), must(tablefile.Read(under, nil))
	check(demo.Trips[trip].Drive(log, fitted, cal))
}

// step is the one under way.
func (s *story) step() *view.Step { return &s.steps[len(s.steps)-1] }

func (s *story) link(file, text, note string) {
	s.step().Links = append(s.step().Links, view.Link{Href: file, Text: text, Note: note})
}

// trims draws the trims of a drive against load, as the index shows them.
func (s *story) trims(file string) {
	doc := must(tablefile.Read(file, nil))
	s.step().Charts = append(s.step().Charts, view.AlongRows(doc.Table("trim.mean"), 5))
}

// most is how many lines of a command's output the demo prints; the whole
// stands in a file.
const most = 26

// show runs a command as a person would and prints it with its output.
func (s *story) show(typed string, args []string) {
	typed = "calsplice " + typed
	fmt.Fprintln(s.out, "$ "+typed)
	s.step().Commands = append(s.step().Commands, typed)
	said := s.run(args[0], args[1:])
	if said == "" {
		return
	}
	lines := strings.Split(strings.TrimRight(said, "\n"), "\n")
	if len(lines) <= most {
		s.lines(lines)
		return
	}
	s.files++
	file := fmt.Sprintf("said-%d-%s.txt", s.files, args[1])
	s.link(file, typed, "what it printed")
	s.lines(lines[:most-1])
	fmt.Fprintf(s.out, "… %d more lines in %s\n", len(lines)-most+1, file)
	check(tablefile.Replace(file, nil, func(w io.Writer) error {
		_, err := fmt.Fprintf(w, "$ %s\n%s", typed, said)
		return err
	}))
}

// lines prints a command's lines, those too long for 80 columns in several.
func (s *story) lines(list []string) {
	p := &text.Printer{W: s.out, Width: 80}
	for _, line := range list {
		p.Wrap("", line)
	}
}

// run runs a command. A status other than wanted ends the demo: it would no longer
// tell the truth.
func (s *story) run(wanted string, args []string) (said string) {
	var both bytes.Buffer
	status := execute(s.ctx, args, strings.NewReader(""), &both, &both)
	refuse(strconv.Itoa(status) != wanted, "ended with status %d: %s", status, both.String())
	return both.String()
}

// index is the page that leads to the others.
func (s *story) index() error {
	v := &view.View{Title: "Fell rescue van: the whole job", Kind: "An invented engine; nothing here was measured",
		Verdict:  "One table was corrected and proved on the road; an air leak and stale fuel were repaired, not calibrated away.",
		Standing: true, Steps: s.steps}
	return tablefile.Replace("index.html", nil, func(w io.Writer) error { return page.Write(w, v) })
}
