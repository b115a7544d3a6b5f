//go:build !unix

package tablefile

import "io/fs"

// umask is none where the system has none.
func umask() fs.FileMode { return 0 }
