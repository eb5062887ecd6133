// Command cazward leads a weatherization crew through the combustion-safety
// test of a home at worst-case depressurization, records what they saw, judges
// it by an editable table of limits and writes the report.
package main

import "os"

func main() { os.Exit(Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }
