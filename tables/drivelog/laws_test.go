package drivelog

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"calsplice/tables/drivelog/dialect"

	"pgregory.net/rapid"
)

// genLog draws a log of CSV as encoding/csv writes it (RFC 4180): notes with
// quotes, delimiters and line ends among numbers, text and holes.
func genLog(t *rapid.T) (text string, rows [][]string) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = rapid.Bool().Draw(t, "crlf")
	w.Write([]string{"time", "note", "RPM", "Air charge", "remark"})
	cell := rapid.OneOf(
		rapid.Map(rapid.IntRange(-9999, 99999), func(n int) string { return strconv.FormatFloat(float64(n)/8, 'f', -1, 64) }),
		rapid.SampledFrom([]string{"", "NaN", "-", "x", "1e3", "0x1F", "-0", "12.", ".5", "123456789.125", "0.30000000000000004"}))
	note := rapid.OneOf(rapid.SampledFrom([]string{"", "a", "a,b", "say \"a\"", "two\nlines", "\"", "\n", ",", " lead"}),
		rapid.StringOfN(rapid.RuneFrom([]rune("ab,\"\n é")), 0, 30, -1))
	n := rapid.IntRange(2, 40).Draw(t, "rows")
	for i := range n {
		row := []string{fmt.Sprint(i), note.Draw(t, "note"), cell.Draw(t, "rpm"), cell.Draw(t, "map"), note.Draw(t, "remark")}
		if i == 0 {
			row = []string{"0", "n", "800", "40", "n"} // what the log is must be plain
		}
		rows = append(rows, row)
		w.Write(row)
	}
	w.Flush()
	text = b.String()
	if rapid.Bool().Draw(t, "no end") {
		text = strings.TrimSuffix(strings.TrimSuffix(text, "\n"), "\r")
	}
	return text, rows
}

// lawFields: whatever RFC 4180 can write is read with its fields in place.
func lawFields(t *rapid.T) {
	text, rows := genLog(t)
	l, err := Open("-", strings.NewReader(text), Options{Held: "no", MaxAge: seconds(0), Delimiter: ",", Decimal: ".", HeaderLine: 1,
		piece: int64(rapid.IntRange(16, 400).Draw(t, "piece")), Workers: rapid.IntRange(1, 3).Draw(t, "workers")})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	n := 0
	_, err = l.Scan(context.Background(), Query{Columns: []string{"engine_speed", "air_charge"}}, func(f *Frame) error {
		for i := range f.N {
			if n == len(rows) {
				return fmt.Errorf("more than %d rows", n)
			}
			for k, s := range rows[n][2:4] {
				want := dialect.NoReading
				if v, ok := dialect.Number([]byte(s), '.'); ok {
					want = v
				}
				if got := f.Columns[k].Value[i]; math.Float64bits(got) != math.Float64bits(want) && !(got != got && want != want) {
					return fmt.Errorf("row %d: got %v of %q", n, got, s)
				}
			}
			n++
		}
		return nil
	})
	if err != nil || n != len(rows) {
		t.Fatalf("%d of %d rows of %q: %v", n, len(rows), text, err)
	}
}

func TestFieldsInPlace(t *testing.T) { rapid.Check(t, lawFields) }
func FuzzFieldsInPlace(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawFields)) }

// lawPieces: the same instants, lines and faults whatever the size of the
// pieces, the number of workers, and whether the log is packed; for logs with
// ragged and torn rows, stray quotes and blank lines.
func lawPieces(t *rapid.T) {
	line := rapid.OneOf(
		rapid.SampledFrom([]string{"", "5", "1,2", "3,4,5,6", "7,\"open", "8,\"a\nb\",9", "9,x\"y,1", "time,RPM,MAP", ",,", "10,1,2\r", "11,\"1\",\"2\"", "12,NaN,-",
			"13," + strings.Repeat("1", 300) + ",2", "\"14\",3,4", "1,\"\"\"q\"\"\",2", "2,\"unclosed,3", "  ", "4, 5 , 6"}),
		rapid.Map(rapid.IntRange(0, 50), func(n int) string { return fmt.Sprintf("%d,%d,%d", n, n*7, n%3) }))
	text := "time,RPM,MAP\n0,800,40\n1,800,41\n" + strings.Join(rapid.SliceOfN(line, 1, 40).Draw(t, "lines"), "\n")
	read := func(raw []byte, o Options) string {
		l, err := Open("-", bytes.NewReader(raw), o)
		if err != nil {
			return err.Error()
		}
		defer l.Close()
		var b strings.Builder
		r, err := l.Scan(context.Background(), Query{Columns: []string{"engine_speed", "manifold_pressure + 0"}}, func(f *Frame) error {
			for i := range f.N {
				fmt.Fprintln(&b, f.Line[i], f.Time[i], f.Stretch[i], f.Columns[0].Value[i], f.Columns[0].Fresh[i], f.Columns[1].Value[i], f.Columns[1].Fresh[i])
			}
			return nil
		})
		if err != nil {
			return err.Error()
		}
		fmt.Fprint(&b, r.Rows, r.Faults)
		return b.String()
	}
	base := Options{Delimiter: ",", HeaderLine: 1, Workers: 1}
	want := read([]byte(text), base)
	o := base
	o.piece, o.Workers = int64(rapid.IntRange(8, 200).Draw(t, "piece")), rapid.IntRange(1, 4).Draw(t, "workers")
	if got := read([]byte(text), o); got != want {
		t.Fatalf("pieces of %d of %q:\ngot  %s\nwant %s", o.piece, text, got, want)
	}
	var z bytes.Buffer
	w := gzip.NewWriter(&z)
	w.Write([]byte(text))
	w.Close()
	if got := read(z.Bytes(), o); got != want {
		t.Fatalf("packed, pieces of %d of %q:\ngot  %s\nwant %s", o.piece, text, got, want)
	}
}

func TestPiecesDoNotMatter(t *testing.T) { rapid.Check(t, lawPieces) }
func FuzzPiecesDoNotMatter(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawPieces)) }

// lawTogether: whoever reads a log beside others gets the instants and values
// that it gets alone, also where both ask for one channel.
func lawTogether(t *rapid.T) {
	text, _ := genLog(t)
	queries := rapid.SliceOfN(rapid.SliceOfN(rapid.SampledFrom([]string{"engine_speed", "air_charge", "engine_speed + air_charge", "air_charge > 3"}), 1, 4), 1, 3).Draw(t, "queries")
	read := func(queries ...[]string) (got []string, rows int) {
		l, err := Open("-", strings.NewReader(text), Options{HeaderLine: 1})
		if err != nil {
			t.Skip(err)
		}
		defer l.Close()
		out := make([]strings.Builder, len(queries))
		var readers []Reader
		for k, columns := range queries {
			readers = append(readers, Reader{Query{Columns: columns}, func(f *Frame) error {
				for i := range f.N {
					fmt.Fprint(&out[k], f.Line[i], f.Time[i], f.Stretch[i])
					for _, c := range f.Columns {
						fmt.Fprint(&out[k], " ", c.Value[i], c.Fresh[i])
					}
				}
				f.Columns[0] = Column{} // each has a frame of its own
				return nil
			}})
		}
		r, err := l.ScanFor(context.Background(), readers...)
		if err != nil {
			t.Skip(err)
		}
		for k := range out {
			got = append(got, out[k].String())
		}
		return got, r.Rows
	}
	got, rows := read(queries...)
	for k, q := range queries {
		if alone, n := read(q); alone[0] != got[k] || n != rows {
			t.Fatalf("%q beside %q of %q:\ngot  %s\nwant %s", q, queries, text, got[k], alone[0])
		}
	}
}

func TestReadTogether(t *testing.T) { rapid.Check(t, lawTogether) }

// TestReaderFails: where one of several readers fails, its error ends the scan, and what
// stands later in the log is not told instead; the others have the frames until then, and
// none gets a frame behind one that it failed on.
func TestReaderFails(t *testing.T) {
	var text strings.Builder
	text.WriteString("Time (s),Engine speed (r/min),MAP (kPa),Rail pressure (kPa(a))\n")
	for i := range 150_000 {
		rail := 300
		if i == 149_990 {
			rail = 9999
		}
		fmt.Fprintf(&text, "%d.%d,%d,40,%d\n", i/10, i%10, 800+i%7, rail)
	}
	mine := errors.New("mine")
	all := 0 // frames before the one with the fault
	for _, failing := range []func() (frame int){func() int { return -1 }, func() int { return 0 }, func() int { return 3 }, func() int { return all - 1 }} {
		at, want := failing(), "mine"
		if at < 0 {
			want = "no port injection"
		}
		l, err := Open("-", strings.NewReader(text.String()), Options{})
		if err != nil {
			t.Fatal(err)
		}
		rows, frames, next := 0, 0, 2
		_, err = l.ScanFor(context.Background(),
			Reader{Query{Columns: []string{"engine_speed", "differential_pressure"}}, func(f *Frame) error {
				if f.Line[0] != next {
					t.Errorf("a frame begins at line %d, want %d", f.Line[0], next)
				}
				rows, next = rows+f.N, f.Line[f.N-1]+1
				return nil
			}},
			Reader{Query{Columns: []string{"engine_speed"}}, func(*Frame) error {
				if frames++; frames-1 == at {
					return mine
				}
				return nil
			}})
		l.Close()
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("frame %d: %v, want %s", at, err, want)
		}
		if at < 0 {
			all = frames
		} else if frames != at+1 {
			t.Errorf("%d frames, want %d", frames, at+1)
		}
		if all < 8 || rows == 0 {
			t.Fatalf("frame %d: of %d, and %d rows for the other reader", at, all, rows)
		}
	}
}
