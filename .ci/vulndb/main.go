// Command vulndb lays out the reports of the module golang.org/x/vulndb as the
// database that govulncheck reads from a folder: vulndb MODULE-FOLDER FOLDER.
package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// report is what the index needs of an entry in the OSV format.
type report struct {
	ID       string    `json:"id"`
	Modified time.Time `json:"modified"`
	Aliases  []string  `json:"aliases,omitempty"`
	Affected []struct {
		Package struct {
			Name string `json:"name"`
		} `json:"package"`
		Ranges []struct {
			Events []struct {
				Fixed string `json:"fixed"`
			} `json:"events"`
		} `json:"ranges"`
	} `json:"affected"`
}

type vuln struct {
	ID       string    `json:"id"`
	Modified time.Time `json:"modified"`
	Fixed    string    `json:"fixed,omitempty"`
}

type module struct {
	Path  string `json:"path"`
	Vulns []vuln `json:"vulns"`
}

type named struct {
	ID       string    `json:"id"`
	Modified time.Time `json:"modified"`
	Aliases  []string  `json:"aliases,omitempty"`
}

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "vulndb:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 2 {
		return fmt.Errorf("usage: vulndb MODULE-FOLDER FOLDER")
	}
	files, err := filepath.Glob(filepath.Join(args[0], "data", "osv", "*.json"))
	if err != nil {
		return err
	}
	if len(files) == 0 {
		return fmt.Errorf("no reports under %s/data/osv", args[0])
	}
	for _, d := range []string{"ID", "index"} {
		if err := os.MkdirAll(filepath.Join(args[1], d), 0o755); err != nil {
			return err
		}
	}
	byPath := map[string]*module{}
	var all []named
	var newest time.Time
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			return err
		}
		var r report
		if err := json.Unmarshal(b, &r); err != nil {
			return fmt.Errorf("%s: %w", f, err)
		}
		if err := os.WriteFile(filepath.Join(args[1], "ID", r.ID+".json"), b, 0o644); err != nil {
			return err
		}
		all = append(all, named{r.ID, r.Modified, r.Aliases})
		if r.Modified.After(newest) {
			newest = r.Modified
		}
		for _, a := range r.Affected {
			v := vuln{ID: r.ID, Modified: r.Modified}
			for _, x := range a.Ranges {
				for _, e := range x.Events {
					if e.Fixed != "" {
						v.Fixed = e.Fixed // the last one: none before it is free of the fault
					}
				}
			}
			m := byPath[a.Package.Name]
			if m == nil {
				m = &module{Path: a.Package.Name}
				byPath[m.Path] = m
			}
			m.Vulns = append(m.Vulns, v)
		}
	}
	modules := make([]*module, 0, len(byPath))
	for _, m := range byPath {
		modules = append(modules, m)
	}
	slices.SortFunc(modules, func(a, b *module) int { return cmp.Compare(a.Path, b.Path) })
	for name, v := range map[string]any{"db": map[string]time.Time{"modified": newest}, "modules": modules, "vulns": all} {
		b, err := json.Marshal(v)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(args[1], "index", name+".json"), b, 0o644); err != nil {
			return err
		}
	}
	fmt.Printf("%d reports\n", len(files))
	return nil
}
