package propose

// Fit is what a fit of flow and offset says.
type Fit struct {
	Rows     int     `json:"rows"`
	Visits   int     `json:"visits"`
	Residual float64 `json:"residual"` // %
}
