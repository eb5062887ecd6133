package limits

import (
	_ "embed"
)

//go:embed schema/1.json
var schema1 []byte

// Schema returns the JSON Schema (2020-12) of a table format, for editors, and
// false for a format that this program does not know. It says less than
// [Check]: no schema can say that a table has no gap.
func Schema(format int) ([]byte, bool) {
	if format != formatVersion {
		return nil, false
	}
	return append([]byte{}, schema1...), true
}
