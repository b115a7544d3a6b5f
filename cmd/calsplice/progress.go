package main

import (
	"os"
	"sync"

	"github.com/schollz/progressbar/v3"
	"github.com/urfave/cli/v2"
	"golang.org/x/term"
)

// progress draws a bar with rate and remaining time on a terminal's standard
// error for reads that take long; nil where there is no terminal.
func progress(c *cli.Context) func(done, size int64) {
	f, ok := c.App.ErrWriter.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil
	}
	const worth = 32 << 20 // bytes: less is read before a bar can be seen
	var mu sync.Mutex
	var bar *progressbar.ProgressBar
	return func(done, size int64) {
		mu.Lock()
		defer mu.Unlock()
		if bar == nil {
			if size < worth {
				return
			}
			bar = progressbar.NewOptions64(size, progressbar.OptionSetWriter(f), progressbar.OptionShowBytes(true),
				progressbar.OptionClearOnFinish(), progressbar.OptionSetDescription("reading"))
		}
		bar.Set64(done)
	}
}
