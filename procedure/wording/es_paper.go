package wording

var esPaper = map[string]string{}
