package propose

import (
	"context"
	"fmt"

	"calsplice/interp/cells"
	"calsplice/tables"
)

// SparkFromLogs takes advance away where drive logs show persistent knock.
func SparkFromLogs(ctx context.Context, cal *tables.Calibration, logs []cells.Log, opt Options) (*Proposal, error) {
	return nil, fmt.Errorf("not yet")
}
