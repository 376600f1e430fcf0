package detect

// Rule is the definition of an event, as a pack gives it, checked.
type Rule struct {
	ID       string
	Title    string
	Meaning  string   // one sentence
	Group    string   // heading it is listed under
	When     string   // expression
	At       string   // expression of moments; empty for a rule of spans
	Basis    string   // regulation or standard with paragraph, or "common practice"
	Caution  string   // shown with the event where it may call for an inspection
	Requires []string // parameters, values and systems it cannot do without
	Pack     string   // the pack it came from
}
