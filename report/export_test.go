package report

// Labels gives the tests the label table.
func Labels() map[string][2]string { return labels() }

// MayStay gives the tests the fields that redaction keeps.
func MayStay() map[string]bool { return mayStay }
