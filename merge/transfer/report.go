package transfer

// Report parts follow.
type (
	Point     struct{}
	Idle      struct{}
	Duty      struct{}
	Power     struct{}
	Review    struct{}
	RoundTrip struct{}
)

func (j *job) report() {}
