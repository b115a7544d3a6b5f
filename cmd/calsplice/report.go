package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"path/filepath"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/interp/cells/axes"
	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
)

func reportCommand() *cli.Command {
	return &cli.Command{
		Name:      "report",
		Usage:     "write the whole job on one page, for the customer and the file",
		ArgsUsage: "FOUND NOW",
		Flags: []cli.Flag{
			manyFlag("before", "`LOG`: a drive with FOUND; may be repeated"),
			manyFlag("after", "`LOG`: a drive with NOW; may be repeated"),
			&cli.StringFlag{Name: "customer", Usage: "`TEXT`: whom the report is for"},
			manyFlag("note", "`TEXT`: something that was done; may be repeated"),
			&cli.StringFlag{Name: "date", Usage: "`DATE`: of the report, as it is to be printed"},
			railFlag(), profileFlag(),
			resultFlag("the report"), jsonFlag(), colorFlag(),
		},
		Action: report,
	}
}

// reportJSON is the report for programs.
type reportJSON struct {
	Customer string            `json:"customer"`
	Date     string            `json:"date"`
	Sections view.Sections     `json:"sections"`
	Before   *stageJSON        `json:"before"` // null without a drive
	After    *stageJSON        `json:"after"`
	Compared *cells.Comparison `json:"compared"` // null without two drives
	Changes  *merge.Report     `json:"changes"`
	Files    []view.File       `json:"files"`
}

// stageJSON is a drive's part of it.
type stageJSON struct {
	Trims   *cells.Verdict `json:"trims"`   // null where not known
	Explain *explanation   `json:"explain"` // as explain prints it; null where not explained
	Why     string         `json:"why"`     // it is not
}

func report(c *cli.Context) error {
	j, err := readJob(c)
	if err != nil {
		return err
	}
	return deliver(c, result{
		view: func() (*view.View, error) { return view.Report(j) },
		json: func(w io.Writer) error { return writeReportJSON(w, j) },
	})
}

// readJob reads the calibrations and the drives.
func readJob(c *cli.Context) (*view.Job, error) {
	j := &view.Job{Customer: c.String("customer"), Date: c.String("date"), Notes: many(c, "note")}
	for i, what := range []string{"calibration as found", "calibration now"} {
		if err := sum(j, c.Args().Get(i), what); err != nil {
			return nil, err
		}
	}
	found, err := readCalibration(c, c.Args().Get(0))
	if err != nil {
		return nil, err
	}
	now, err := readCalibration(c, c.Args().Get(1))
	if err != nil {
		return nil, err
	}
	j.Found, j.Now, j.Changes, j.Looks = found, now, merge.Compare(found, now, merge.Tolerance{}, merge.Selection{}), newFindings(found, now)
	if j.Before, err = readStage(c, j, "before", found); err != nil {
		return nil, err
	}
	if j.After, err = readStage(c, j, "after", now); err != nil {
		return nil, err
	}
	if j.Before != nil && j.After != nil {
		j.Compared, err = cells.CompareDrives(j.Before.Drive, j.After.Drive)
	}
	return j, err
}

// readStage reads the drives of a flag, driven with a calibration; nil where
// there are none.
func readStage(c *cli.Context, j *view.Job, flag string, cal *tables.Calibration) (*view.Stage, error) {
	files, err := expand(many(c, flag))
	if err != nil || len(files) == 0 {
		return nil, err
	}
	opt, err := logOptions(c)
	if err != nil {
		return nil, err
	}
	opt.Engine = cal.Engine()
	var logs []cells.Log
	for _, f := range files {
		if err := sum(j, f, "drive "+flag); err != nil {
			return nil, err
		}
		log, err := namedLog(c, f, opt, true)
		if err != nil {
			return nil, err
		}
		logs = append(logs, log)
	}
	s := &view.Stage{}
	spec := cells.Spec{Let: opt.Let}
	// Both drives are looked at on the axes of the calibration as found, so that
	// they compare.
	if spec.X, spec.Y, err = driveAxes(j.Found); err != nil {
		return nil, tables.In(c.Args().First(), 0, 0, "", err)
	}
	var notes []string
	s.Drive, notes, err = cells.GatherDrive(c.Context, logs, spec)
	printCautions(c, notes...)
	if err != nil {
		return nil, err
	}
	e, err := explain(c, cal, files, opt)
	switch {
	case c.Context.Err() != nil:
		return nil, c.Context.Err()
	case err != nil:
		s.Why = err.Error() // the logs were read: there is too little in them
	default:
		s.Trims, s.Knock = e.trims, e.knock
	}
	return s, nil
}

// driveAxes are the axes on which drives are looked at: the spark table's, or
// those of another table that a log has channels for.
func driveAxes(cal *tables.Calibration) (x, y *axes.Axis, err error) {
	id, err := cells.SparkTable(cal)
	if err == nil {
		return axes.OfTable(cal, id)
	}
	for _, t := range cal.Tables() {
		if t.Y() == nil {
			continue
		}
		if x, y, axesErr := axes.OfTable(cal, t.ID()); axesErr == nil {
			return x, y, nil
		}
	}
	return nil, nil, err
}

// sum adds a file with its SHA-256 to those of the job.
func sum(j *view.Job, path, what string) error {
	if path == "-" {
		return errors.New("report names its files and their sums: standard input has neither")
	}
	f, err := os.Open(path)
	if err != nil {
		return tablefile.Plain(path, err)
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return tablefile.Plain(path, err)
	}
	j.Files = append(j.Files, view.File{Name: filepath.Base(path), What: what, SHA256: hex.EncodeToString(h.Sum(nil))})
	return nil
}

func writeReportJSON(w io.Writer, j *view.Job) error {
	s, err := j.Sections()
	if err != nil {
		return err
	}
	stage := func(s *view.Stage) *stageJSON {
		if s == nil {
			return nil
		}
		r := &stageJSON{Why: s.Why, Trims: j.Trims(s)}
		if s.Trims != nil || s.Knock != nil {
			r.Explain = &explanation{trims: s.Trims, knock: s.Knock}
		}
		return r
	}
	return strictjson.Print(w, reportJSON{j.Customer, j.Date, s, stage(j.Before), stage(j.After), j.Compared, j.Changes, j.Files})
}
