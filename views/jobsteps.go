package views

// JobSteps is the checklist of a job.
type JobSteps struct {
	Page   Page
	Head   JobHead
	Count  string // "12 of 84 steps done, 72 open"
	Ways   []JobWay
	Shown  string // "of position 3"; "" for everything
	Stale  []StaleRow
	Draft  Draft // of the form that was sent
	Phases []StepPhase
	Empty  bool // the job has no checklist
	Ended  bool
	Model  Link // where the list of the engine's model is written
}

// StepPhase is one phase: a form of its own.
type StepPhase struct {
	Key, Name  string // "removal", "Removal"
	Count      string // "5 of 20 done"
	Action     string
	UID, After string
	Lines      []StepLine
	Saves      bool // something can be ticked
}

// StepLine is one step.
type StepLine struct {
	Text, Caution  string
	Torque, Wrench string
	Each           bool
	Boxes          []StepBox
	Done           []StepDone
	ValueName      string // of the field for what was used; "" where nothing can be ticked
	ValueOpen      bool   // the field stands open
}

// StepBox is a step that can be ticked.
type StepBox struct {
	Name, Label string // "done-7-3"; "3", or "done" for a step done once
}

// StepDone says that a step was done, or had been until it was taken back.
type StepDone struct {
	Label    string // "3"; "" for a step done once
	Text     string // "R. Moss, 2026-05-01 14:05, 480 in-lb"
	Back     string // why it was taken back, and by whom; "" for one that stands
	UndoHref string
}

// UndoStep is the form that takes a step back.
type UndoStep struct {
	Page   Page
	Head   JobHead
	Action string
	Draft  Draft
	Stale  []StaleRow
	Facts  []Fact
	Back   Link
}

// ChecklistForm is the list of a model. Field names: after, lines, who; of
// each line its number from 0: phase-0, text-0, caution-0, torque-0, wrench-0,
// each-0.
type ChecklistForm struct {
	Page   Page
	Action string
	Draft  Draft
	Back   Link
	Model  string
	Own    string // "version 3, saved 2026-05-01 by R. Moss"; "" for the program's list
	Phases []ChecklistPhase
	Before []ChecklistVersion
}

// ChecklistPhase is the lines of one phase, by their numbers.
type ChecklistPhase struct {
	Key, Name string
	Lines     []ChecklistLine
}

// ChecklistLine is a line of the list in the form.
type ChecklistLine struct {
	N    string // "7"
	Open bool
}

// ChecklistVersion is an earlier list.
type ChecklistVersion struct {
	Name  string // "2026-05-01 14:05, R. Moss, 38 lines"
	Lines []StepLine
}

// phaseNames are what people call the phases of a job.
var phaseNames = []Option{{"removal", "Removal"}, {"bench", "Bench"}, {"refit", "Refit"}, {"after", "After"}}

// labels names every field of the list for the summary of what is wrong.
func (p ChecklistForm) labels() map[string]string {
	names := map[string]string{"who": "Saved by"}
	for _, ph := range p.Phases {
		for _, l := range ph.Lines {
			line := "Line " + orWord(p.Draft.Value("text-"+l.N), l.N)
			for field, name := range map[string]string{"phase": "phase", "text": "step", "caution": "caution", "torque": "torque", "wrench": "wrench"} {
				names[field+"-"+l.N] = line + ", " + name
			}
		}
	}
	return names
}
