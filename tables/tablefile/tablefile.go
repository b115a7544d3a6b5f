// Package tablefile is the one place that touches the disk for documents: it
// chooses the spelling by the file's extension, and replaces files whole.
//
// The extensions are .json, .csv and .xlsx, in any capitals; another one is an
// error. The path "-" is a standard stream: what is read there is told apart
// by its first bytes, what is written there is JSON unless a format is named.
package tablefile

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"calsplice/tables"
	"calsplice/tables/sheet"
	"calsplice/tables/strictcsv"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablecsv"
	"calsplice/tables/tablejson"
	"calsplice/tables/tablexlsx"
)

// The spellings of a document, as --format names them.
const (
	JSON = "json"
	CSV  = "csv"
	XLSX = "xlsx"
)

var formats = []string{JSON, CSV, XLSX}

// Options say how a document is written.
type Options struct {
	Format string // of what goes to standard output; "" is JSON
	Long   bool   // CSV with a row a cell
	Stdout io.Writer
	Also   []string     // extensions that the caller writes itself: refusals name them
	First  func() error // what goes before: see [ReplaceAfter]
}

// PatchSuffix ends the name of a file that holds an RFC 6902 JSON Patch, which no
// document is written under.
const PatchSuffix = ".patch.json"

// IsPatch reports whether a file's name says that it holds an RFC 6902 JSON
// Patch.
func IsPatch(path string) bool { return strings.HasSuffix(strings.ToLower(path), PatchSuffix) }

// Format is the spelling that a path's extension names, or an error that lists
// the known ones.
func Format(path string) (string, error) { return formatOf(path, nil) }

// formatOf is [Format] whose error lists other extensions too.
func formatOf(path string, also []string) (string, error) {
	ext := strings.ToLower(filepath.Ext(path))
	if slices.Contains(formats, strings.TrimPrefix(ext, ".")) {
		return ext[1:], nil
	}
	known := append([]string{"." + JSON, "." + CSV, "." + XLSX}, also...)
	want := tables.Listed(known, "or")
	if ext == "" {
		return "", &tables.Fault{File: path, What: "the name has no extension, expected " + want}
	}
	return "", &tables.Fault{File: path, What: fmt.Sprintf("extension %s is not known, expected %s", tables.Quote(ext), want)}
}

// Read reads a document. What is worth a word but no fault, such as a CSV file
// without its last line, is left unsaid: see [ReadWithCautions].
func Read(path string, stdin io.Reader) (*tables.Calibration, error) {
	c, _, err := ReadWithCautions(path, stdin)
	return c, err
}

// ReadWithCautions is [Read] that also returns cautions: what was read in spite of.
func ReadWithCautions(path string, stdin io.Reader) (c *tables.Calibration, cautions tables.Faults, err error) {
	data, format, err := Bytes(path, stdin)
	if err != nil {
		return nil, nil, err
	}
	return Parse(data, format, path)
}

// Parse reads a document whose bytes and spelling are known: see [Bytes].
func Parse(data []byte, format, path string) (c *tables.Calibration, cautions tables.Faults, err error) {
	switch format {
	case JSON:
		c, err = tablejson.Parse(data, path)
	case CSV:
		c, cautions, err = tablecsv.Parse(data, path)
	default:
		c, cautions, err = tablexlsx.Parse(data, path)
	}
	return c, cautions, err
}

// Bytes reads a file whole, up to [tables.MaxBytes], and tells its spelling: by
// the extension, and for "-" by the first bytes.
func Bytes(path string, stdin io.Reader) (data []byte, format string, err error) {
	stream := isStream(path)
	if !stream {
		if format, err = Format(path); err != nil {
			return nil, "", err
		}
	}
	if data, err = Any(path, stdin); stream {
		format = Sniff(data)
	}
	return data, format, err
}

// isStream reports whether a path without an extension is a standard stream, a device
// or a pipe, such as /dev/stdout, whose spelling no name tells.
func isStream(path string) bool { return filepath.Ext(path) == "" && Device(path) }

// OutFormat is the spelling in which a path is written: by its extension, and
// for "-" and devices the one that opt names, or JSON.
func OutFormat(path string, opt Options) (string, error) {
	if IsPatch(path) {
		return "", &tables.Fault{File: path, What: "the name is for a JSON Patch (RFC 6902) and this is none: expected another name"}
	}
	if !isStream(path) {
		return formatOf(path, opt.Also)
	}
	if format := cmp.Or(opt.Format, JSON); slices.Contains(formats, format) {
		return format, nil
	}
	return "", fmt.Errorf("format %s is not known, expected json, csv or xlsx", tables.Quote(opt.Format))
}

// Sniff tells the spelling of a document by its first bytes.
func Sniff(data []byte) string {
	text := strings.TrimLeft(strings.TrimPrefix(string(data[:min(len(data), 200)]), "\ufeff"), " \t\r\n")
	switch {
	case bytes.HasPrefix(data, []byte("PK\x03\x04")):
		return XLSX
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")):
		return CSV
	}
	if _, ok := strictcsv.Delimiter(text); ok || strings.HasPrefix(text, "table,") {
		return CSV
	}
	return JSON
}

// Says is what a file's bytes say that they hold, in a spelling that is known, such
// as "calsplice/1" or, in CSV, "calsplice.calibration"; "" where they do not say. It
// looks no further than it must, and reports no faults.
func Says(data []byte, format string) string {
	switch format {
	case JSON:
		return strictjson.Format(data)
	case XLSX:
		return tablexlsx.Format(data)
	}
	first, _, _ := bytes.Cut(strictcsv.FromUTF16(data[:min(len(data), 200)]), []byte("\n"))
	if _, kind := strictcsv.Begin(&sheet.Reader{}, first, "calibration", "cells", "changes"); kind != "" {
		return "calsplice." + kind
	}
	return ""
}

// Write writes a document, replacing the file whole.
func Write(path string, c *tables.Calibration, opt Options) error {
	format, err := OutFormat(path, opt)
	if err != nil {
		return err
	}
	if opt.Long && format != CSV {
		return &tables.Fault{File: path, What: "the long form is CSV: expected a name that ends in .csv, or --format csv"}
	}
	return ReplaceAfter(path, opt.Stdout, func(w io.Writer) error {
		switch {
		case format == XLSX:
			return tablexlsx.Write(w, c)
		case opt.Long:
			return tablecsv.WriteLong(w, c)
		case format == CSV:
			return tablecsv.Write(w, c)
		}
		return tablejson.Write(w, c)
	}, opt.First)
}

// Plain turns an error of the operating system into one line that names the
// file as the person did.
func Plain(path string, err error) error {
	if err == nil || tables.HasPlace(err) {
		return err
	}
	inner := err // without the names that the system's calls put around it
	for u := errors.Unwrap(err); u != nil; u = errors.Unwrap(u) {
		inner = u
	}
	what := inner.Error()
	switch {
	case errors.Is(err, fs.ErrNotExist):
		what = "no such file or folder"
	case errors.Is(err, fs.ErrPermission):
		what = "permission denied"
	case errors.Is(err, syscall.ENOSPC):
		what = "the disk is full"
	}
	return &tables.Fault{File: path, What: what}
}

// Any reads a file of any kind whole, up to [tables.MaxBytes], into room for as many
// bytes as it has; "-" is stdin. A larger file is refused before it is read.
func Any(path string, stdin io.Reader) ([]byte, error) {
	in := stdin
	if path != "-" {
		f, err := os.Open(path)
		if err != nil {
			return nil, Plain(path, err)
		}
		defer f.Close()
		in = f
	}
	size, most := int64(0), tables.MaxBytes()+1
	if f, ok := in.(*os.File); ok {
		switch info, err := f.Stat(); {
		case err != nil:
		case info.IsDir():
			return nil, &tables.Fault{File: path, What: "this is a folder, expected a file"}
		case info.Mode().IsRegular():
			size = info.Size()
		}
	}
	var b bytes.Buffer
	if size < most {
		b.Grow(int(size) + bytes.MinRead)
		if _, err := b.ReadFrom(io.LimitReader(in, most)); err != nil {
			return nil, &tables.Fault{File: path, What: err.Error()}
		}
		size = int64(b.Len())
	}
	if size >= most {
		return nil, &tables.Fault{File: path, What: tables.TooManyBytes()}
	}
	return b.Bytes(), nil
}
