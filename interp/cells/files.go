package cells

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"

	"calsplice/tables"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablejson"
)

// CombineFiles combines cell averages from files. "-" is standard input: a
// stream of documents in JSON, one behind the other. Documents are read side by side
// and combined one by one, so that ten thousand of them need the room of a few.
func CombineFiles(ctx context.Context, files []string, stdin io.Reader) (*tables.Calibration, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var c combiner
	var errs []error
	for d := range readAhead(ctx, files, stdin) {
		<-d.done
		if d.err == nil {
			d.err = c.Add(d.grid, d.name)
		}
		if d.err != nil {
			if errs = append(errs, d.err); len(errs) == 10 {
				cancel()
			}
		}
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return c.Document()
}

// beingRead is a document that is being read.
type beingRead struct {
	name string
	done chan struct{}
	grid *Grid
	err  error
}

// readAhead reads documents, some at a time, and hands them over in their order.
func readAhead(ctx context.Context, files []string, stdin io.Reader) <-chan *beingRead {
	// The queue's length bounds how many documents are in memory, and is enough to keep
	// every processor reading while one document is combined.
	queue := make(chan *beingRead, 2*runtime.GOMAXPROCS(0))
	give := func(name string, read func() (*tables.Calibration, error)) bool {
		d := &beingRead{name: name, done: make(chan struct{})}
		select {
		case <-ctx.Done():
			return false
		case queue <- d:
		}
		go func() {
			defer close(d.done)
			doc, err := read()
			if d.err = err; err == nil {
				d.grid, d.err = toCombine(doc, name)
			}
		}()
		return true
	}
	go func() {
		defer close(queue)
		for _, f := range files {
			if f != "-" {
				give(f, func() (*tables.Calibration, error) { return tablefile.Read(f, stdin) })
				continue
			}
			err := documents(stdin, func(n int, raw []byte) bool {
				name := fmt.Sprintf("-: document %d", n)
				return give(name, func() (*tables.Calibration, error) { return tablejson.Parse(raw, name) })
			})
			if err != nil {
				give(f, func() (*tables.Calibration, error) { return nil, err })
				return
			}
		}
	}()
	return queue
}

// Each document of a stream is handed on as bytes: finding where one ends is quick and has to
// be done in order, and reading it is slow and does not.

// documents cuts a stream of JSON documents apart, at the brace that closes each;
// what is between its braces is for the reader of documents to judge. give gets
// each, from 1, and may stop it.
func documents(r io.Reader, give func(n int, raw []byte) bool) error {
	b := bufio.NewReaderSize(r, 1<<20)
	for n := 1; ; n++ {
		c, err := b.ReadByte()
		for err == nil && (c == ' ' || c == '\n' || c == '\r' || c == '\t') {
			c, err = b.ReadByte()
		}
		switch {
		case err == io.EOF && n == 1:
			return &tables.Fault{File: "-", What: "no cell averages to combine: the stream is empty"}
		case err == io.EOF:
			return nil
		case err == nil && c != '{':
			return &tables.Fault{File: "-", Path: fmt.Sprintf("document %d", n),
				What: fmt.Sprintf("begins with %s, expected cell averages in JSON", tables.Quote(string(c)))}
		}
		var raw []byte
		if err == nil {
			raw, err = untilClosed(b)
		}
		if err == io.EOF {
			return &tables.Fault{File: "-", Path: fmt.Sprintf("document %d", n), What: "the stream ends within it"}
		}
		if err != nil {
			return err
		}
		if !give(n, raw) {
			return nil
		}
	}
}

// untilClosed reads on behind an opening brace to the one that closes it.
func untilClosed(b *bufio.Reader) ([]byte, error) {
	raw := append(make([]byte, 0, 1<<14), '{')
	// Braces inside texts are no braces; nothing else of JSON matters here, since the
	// document's own reader judges it, with a place.
	depth, text, escaped := 1, false, false
	for {
		if _, err := b.Peek(1); err != nil {
			return nil, err
		}
		ahead, _ := b.Peek(b.Buffered())
		for i, c := range ahead {
			switch {
			case escaped:
				escaped = false
			case text:
				escaped, text = c == '\\', c != '"'
			case c == '"':
				text = true
			case c == '{':
				depth++
			case c == '}':
				if depth--; depth == 0 {
					raw = append(raw, ahead[:i+1]...)
					_, err := b.Discard(i + 1)
					return raw, err
				}
			}
		}
		if raw = append(raw, ahead...); int64(len(raw)) > tables.MaxBytes() {
			return nil, &tables.Fault{File: "-", What: tables.TooManyBytes()}
		}
		if _, err := b.Discard(len(ahead)); err != nil {
			return nil, err
		}
	}
}
