package background

import (
	"os/exec"
	"strings"
	"testing"
)

// TestImportsLipglossAlone: any other import could be initialized after the
// toolkit and bring the wait back.
func TestImportsLipglossAlone(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", `{{join .Imports " "}}`, "cazward/forms/background").Output()
	if err != nil {
		t.Skipf("go list: %v", err)
	}
	if got := strings.TrimSpace(string(out)); got != "github.com/charmbracelet/lipgloss" {
		t.Errorf("imports %s", got)
	}
}
