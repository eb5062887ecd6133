package wording

var enPaper = map[string]string{}
