package wording

// Page gives one of the words of the supervisor's web pages; "" for a key it
// does not have. Pairs are name and value.
func Page(l Lang, key string, pairs ...string) string { return say(l, "page."+key, pairs...) }
