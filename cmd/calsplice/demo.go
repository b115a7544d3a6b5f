package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/demo"
	"calsplice/cmd/calsplice/page"
	"calsplice/cmd/calsplice/text"
	"calsplice/cmd/calsplice/view"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

func demoCommand() *cli.Command {
	return &cli.Command{
		Name:  "demo",
		Usage: "run the whole job on an invented engine",
		Flags: []cli.Flag{&cli.StringFlag{Name: "o", Aliases: []string{"out"}, Value: "calsplice-demo", Usage: "`FOLDER`: made where there is none; files of the demo's names that differ are not replaced"}},
		Action: func(c *cli.Context) error {
			return runDemo(c, c.String("o"))
		},
	}
}

// story is the demo under way. Steps run inside its folder, so that no result
// names a path.
type story struct {
	ctx   context.Context
	out   io.Writer
	steps []view.Step // what the index says of each chapter
	files int         // outputs that stand in a file
	err   error       // the first; what comes after it does nothing
}

// runDemo does the job in a folder of its own first: a folder that holds other
// files of the same names is left as it is.
func runDemo(c *cli.Context, folder string) error {
	made, err := os.MkdirTemp("", "calsplice-demo-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(made)
	var said bytes.Buffer
	if err := (&story{ctx: c.Context, out: &said}).within(made); err != nil {
		return err
	}
	if err := c.Context.Err(); err != nil {
		return err
	}
	if err := handOver(made, folder); err != nil {
		return err
	}
	fmt.Fprintf(&said, "\nEverything is in %s. Open %s in a browser.\n", folder, filepath.Join(folder, "index.html"))
	_, err = c.App.Writer.Write(said.Bytes())
	return err
}

// within tells the story inside a folder.
func (s *story) within(folder string) error {
	back, err := os.Getwd()
	if err != nil {
		return err
	}
	if err := os.Chdir(folder); err != nil {
		return err
	}
	defer os.Chdir(back)
	return s.writeStory()
}

// handOver copies the files of one folder to another, all of them or, where one
// would replace a file of other content, none.
func handOver(made, folder string) error {
	entries, err := os.ReadDir(made)
	if err != nil {
		return err
	}
	fresh := map[string][]byte{}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(made, e.Name()))
		if err != nil {
			return err
		}
		to := filepath.Join(folder, e.Name())
		switch there, err := os.ReadFile(to); {
		case err == nil && bytes.Equal(there, data):
		case errors.Is(err, fs.ErrNotExist):
			fresh[to] = data
		case err != nil:
			return tablefile.Plain(to, err)
		default:
			return &tables.Fault{File: to, What: "is there already, and not as this demo would write it: name another folder with -o"}
		}
	}
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return tablefile.Plain(folder, err)
	}
	for _, to := range slices.Sorted(maps.Keys(fresh)) {
		if err := tablefile.Replace(to, nil, func(w io.Writer) error { _, err := w.Write(fresh[to]); return err }); err != nil {
			return err
		}
	}
	return nil
}

func (s *story) writeStory() error {
	for _, chapter := range []func(){s.documents, s.review, s.fit, s.correct, s.prove, s.leak, s.stale, s.together, s.report, s.index} {
		if s.err == nil {
			chapter()
		}
	}
	return s.err
}

// try does what may fail, unless something has failed before.
func (s *story) try(do func() error) {
	if s.err == nil {
		s.err = do()
	}
}

// read and write are of the demo's own files.
func (s *story) read(file string) (doc *tables.Calibration) {
	s.try(func() (err error) { doc, err = tablefile.Read(file, nil); return err })
	return doc
}

func (s *story) write(file string, invent func() (*tables.Calibration, error)) {
	s.try(func() error {
		doc, err := invent()
		if err != nil {
			return err
		}
		return tablefile.Write(file, doc, tablefile.Options{})
	})
}

// say prints a sentence between the commands.
func (s *story) say(sentence string) {
	fmt.Fprintf(s.out, "\n# %s\n", sentence)
	s.steps = append(s.steps, view.Step{Heading: sentence})
}

// step is the one under way.
func (s *story) step() *view.Step { return &s.steps[len(s.steps)-1] }

// learned is what the step showed, for the index.
func (s *story) learned(sentence string) { s.step().Text = append(s.step().Text, sentence) }

// trims draws the trims of a drive against load, as the index shows them.
func (s *story) trims(file string) {
	if doc := s.read(file); s.err == nil {
		s.step().Charts = append(s.step().Charts, view.AlongRows(doc.Table("trim.mean"), 5))
	}
}

// most is how many lines of a command's output the demo prints; the whole
// stands in a file.
const most = 26

// do runs a command as a person would and prints it with its output. A status
// other than wanted ends the demo: it would no longer tell the truth.
func (s *story) do(wanted int, args ...string) {
	line := "$ calsplice " + strings.Join(quoted(args), " ")
	fmt.Fprintln(s.out, line)
	s.step().Commands = append(s.step().Commands, strings.TrimPrefix(line, "$ "))
	var said bytes.Buffer
	if s.run(wanted, &said, args); said.Len() == 0 || s.err != nil {
		return
	}
	lines := strings.Split(strings.TrimRight(said.String(), "\n"), "\n")
	if len(lines) <= most {
		s.lines(lines)
		return
	}
	s.files++
	file := fmt.Sprintf("said-%d-%s.txt", s.files, args[0])
	s.step().Links = append(s.step().Links, view.Link{Href: file, Text: strings.TrimPrefix(line, "$ "), Note: "what it printed"})
	s.lines(lines[:most-1])
	fmt.Fprintf(s.out, "… %d more lines in %s\n", len(lines)-most+1, file)
	s.try(func() error {
		return tablefile.Replace(file, nil, func(w io.Writer) error {
			_, err := fmt.Fprintf(w, "%s\n%s", line, said.String())
			return err
		})
	})
}

// lines prints a command's lines, those too long for 80 columns in several.
func (s *story) lines(list []string) {
	p := &text.Printer{W: s.out, Width: 80}
	for _, line := range list {
		if utf8.RuneCountInString(line) <= p.Width {
			p.Line("%s", line)
		} else {
			p.Wrap("", line)
		}
	}
}

// aside runs a command without showing it: one more form of a result shown.
func (s *story) aside(wanted int, link view.Link, args ...string) {
	s.step().Links = append(s.step().Links, link)
	s.quietly(wanted, append(args, "-o", link.Href)...)
}

// quietly runs a command without showing it.
func (s *story) quietly(wanted int, args ...string) { s.run(wanted, io.Discard, args) }

func (s *story) run(wanted int, out io.Writer, args []string) {
	s.try(func() error {
		var both bytes.Buffer
		if status := execute(s.ctx, args, strings.NewReader(""), &both, &both); status != wanted {
			return fmt.Errorf("the demo's own %s ended with status %d, want %d: %s", args[0], status, wanted, both.String())
		}
		_, err := out.Write(both.Bytes())
		return err
	})
}

func quoted(args []string) []string {
	list := make([]string, len(args))
	for i, a := range args {
		list[i] = a
		if strings.ContainsAny(a, " *:'") && !strings.Contains(a, ".json:") {
			list[i] = "'" + a + "'"
		}
	}
	return list
}

// documents writes what the job begins with.
func (s *story) documents() {
	s.write("van-delivered.json", demo.Delivered)
	s.write("van-found.json", demo.Van)
	s.write("tender.json", demo.Tender)
}

func (s *story) review() {
	s.say("What did somebody change since the van was delivered?")
	s.learned("Spark is 2° further advanced in one block of nine cells.")
	s.do(statusReport, "diff", "van-delivered.json", "van-found.json")
	s.aside(statusReport, view.Link{Href: "changed.html", Text: "What was changed since delivery"}, "diff", "van-delivered.json", "van-found.json")
}

func (s *story) fit() {
	s.say("The van gets the tender's injectors: their data, in the van's terms.")
	s.learned("Flow, offset and shortest pulse came across in the van's units, on its axes and at its fuel pressure. Nothing else moved.")
	s.do(statusClean, "transfer", "tender.json", "van-found.json", "--partial", "-o", "injectors.json")
	s.do(statusClean, "apply", "van-found.json", "injectors.json", "-o", "van-fitted.json")
	s.aside(statusClean, view.Link{Href: "injectors.html", Text: "The injectors' data, before and after"}, "transfer", "tender.json", "van-found.json", "--partial")
}

// drive writes a drive's log under the calibration in a file.
func (s *story) drive(trip demo.Trip, log, under string) {
	fitted, cal := s.read("van-fitted.json"), s.read(under)
	s.try(func() error { return trip.Drive(log, fitted, cal) })
}

func (s *story) correct() {
	s.drive(demo.Fitted, "drive-1.csv", "van-fitted.json")
	s.say("A drive, gathered onto the spark table's axes: are the trims normal?")
	s.learned("No: the mixture control adds about 7.6 % fuel at every load, so the injectors flow less than their table says. One bounded correction of the flow is proposed with its evidence, and applied.")
	s.do(statusClean, "cells", "drive-1.csv", "--value", "trim", "--axes", "van-fitted.json:spark.advance", "--steady", "-o", "trims-1.json")
	s.do(statusClean, "show", "trims-1.json", "--table", "trim.mean")
	s.do(statusReport, "explain", "van-fitted.json", "drive-1.csv")
	s.do(statusReport, "propose", "fuel", "van-fitted.json", "drive-1.csv", "-o", "flow.json")
	s.do(statusClean, "apply", "van-fitted.json", "flow.json", "-o", "van-corrected.json")
	s.trims("trims-1.json")
	s.aside(statusClean, view.Link{Href: "drive-1.html", Text: "The first drive over time"},
		"trace", "drive-1.csv", "--channel", "engine_speed,manifold_pressure,pulse_width,trim,knock_retard")
	s.aside(statusReport, view.Link{Href: "causes-1.html", Text: "Why the trims are what they are"}, "explain", "van-fitted.json", "drive-1.csv")
	s.aside(statusReport, view.Link{Href: "flow.html", Text: "The proposed flow, with its evidence"}, "propose", "fuel", "van-fitted.json", "drive-1.csv")
}

func (s *story) prove() {
	s.drive(demo.Again, "drive-2.csv", "van-corrected.json")
	s.say("The same road again with the correction: is it better, beyond chance?")
	s.learned("Yes: every cell is within ±5 %, and all that could be tested changed more than chance explains.")
	s.do(statusClean, "cells", "drive-2.csv", "--value", "trim", "--axes", "van-fitted.json:spark.advance", "--steady", "-o", "trims-2.json")
	s.do(statusReport, "diff", "trims-1.json", "trims-2.json")
	s.aside(statusReport, view.Link{Href: "drives.html", Text: "The two drives compared"}, "diff", "trims-1.json", "trims-2.json")
	s.trims("trims-2.json")
	s.say("The correction can still be undone.")
	s.learned("Every value that the change set would put back is still there to be replaced.")
	s.do(statusClean, "apply", "van-corrected.json", "flow.json", "-R", "--check")
}

func (s *story) leak() {
	s.drive(demo.Leaky, "drive-3.csv", "van-corrected.json")
	s.say("A year later the trims are up again. A leak is repaired, not calibrated away.")
	s.learned("The trims are large at small air flow and fade with more: air that the meter never saw. Nothing is proposed, and no table is changed.")
	s.quietly(statusClean, "cells", "drive-3.csv", "--value", "trim", "--axes", "van-fitted.json:spark.advance", "--steady", "-o", "trims-3.json")
	s.trims("trims-3.json")
	s.do(statusReport, "explain", "van-corrected.json", "drive-3.csv")
	s.do(statusTrouble, "propose", "fuel", "van-corrected.json", "drive-3.csv", "-o", "never.json")
	s.aside(statusReport, view.Link{Href: "causes-3.html", Text: "Why the trims came back"}, "explain", "van-corrected.json", "drive-3.csv")
}

func (s *story) stale() {
	s.drive(demo.Stale, "drive-4.csv", "van-corrected.json")
	s.say("Repaired, the van stands for months, and comes back down on power. Stale fuel is drained, not calibrated away.")
	s.learned("Spark is pulled wherever the engine works hard: it is the fuel. Retarding the table is refused.")
	s.do(statusReport, "explain", "van-corrected.json", "drive-4.csv")
	s.do(statusTrouble, "propose", "spark", "van-corrected.json", "drive-4.csv", "-o", "never.json")
	s.aside(statusReport, view.Link{Href: "causes-4.html", Text: "Why spark is pulled"}, "explain", "van-corrected.json", "drive-4.csv")
	s.drive(demo.Refuelled, "drive-5.csv", "van-corrected.json")
	s.say("Fresh fuel, the same table, the same road: the next drive proves it.")
	s.learned("The knock is gone, and the table is as it was.")
	for _, n := range []string{"4", "5"} {
		s.quietly(statusClean, "cells", "drive-"+n+".csv", "--value", "knock_retard",
			"--axes", "van-corrected.json:spark.advance", "-o", "retard-"+n+".json")
	}
	s.do(statusReport, "diff", "retard-4.json", "retard-5.json")
	s.do(statusClean, "explain", "van-corrected.json", "drive-5.csv")
}

func (s *story) together() {
	fitted := s.read("van-fitted.json")
	s.write("van-colleague.json", func() (*tables.Calibration, error) { return demo.Colleague(fitted) })
	s.say("A colleague changed the spark meanwhile: both people's work in one.")
	s.learned("The two changes don't touch, and merge without a conflict.")
	s.do(statusClean, "merge", "van-fitted.json", "van-corrected.json", "van-colleague.json", "-o", "van-merged.json")
	s.quietly(statusClean, "convert", "van-merged.json", "-o", "van-merged.xlsx")
	s.step().Links = append(s.step().Links, view.Link{Href: "van-merged.xlsx", Text: "The merged calibration as a workbook"})
	s.aside(statusClean, view.Link{Href: "van-merged.html", Text: "The merged calibration"}, "show", "van-merged.json")
}

// report is the job's one page, for the customer and the file.
func (s *story) report() {
	s.say("The job on one page, for the customer and the file.")
	args := []string{"report", "van-fitted.json", "van-corrected.json", "--before", "drive-1.csv", "--after", "drive-2.csv",
		"--customer", "Fell Rescue (invented)", "--note", "Injectors of the pilot tender fitted, and their data brought across."}
	s.do(statusClean, args...)
	s.aside(statusClean, view.Link{Href: "report.html", Text: "The job's report"}, args...)
}

// index is the page that leads to the others.
func (s *story) index() {
	v := &view.View{Title: "Fell rescue van: the whole job", Kind: "An invented engine; nothing here was measured",
		Verdict:  "One table was corrected and proved on the road; an air leak and stale fuel were repaired, not calibrated away.",
		Standing: true, Steps: s.steps}
	s.try(func() error {
		return tablefile.Replace("index.html", nil, func(w io.Writer) error { return page.Write(w, v) })
	})
}
