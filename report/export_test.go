package report

// Labels gives the tests the label table.
func Labels() map[string][2]string { return labels }
