package coat

// Validate checks the file. A bad one is a *timeline.Fault of kind Invalid whose Field is the place at fault.
func (f File) Validate() error { return nil }
