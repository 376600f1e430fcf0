package command

// Stdin is the input on a command line that stands for standard input, and StdinName its name in
// messages and reports. A file of the name - is ./-.
const (
	Stdin     = "-"
	StdinName = "stdin"
)
