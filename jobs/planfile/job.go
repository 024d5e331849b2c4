package planfile

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"go.yaml.in/yaml/v3"

	"laneplan/jobs"
	"laneplan/jobs/intake"
	"laneplan/jobs/intake/fault"
)

// SetJob puts the gang that was planned into the plan, so that everything can
// be made again from the plan file alone.
func (g *Gang) SetJob(gang jobs.Gang) error {
	file, err := intake.Format(gang)
	if err != nil {
		return fmt.Errorf("store gang %s: %w", gang.ID, err)
	}
	var document yaml.Node
	if err := yaml.Unmarshal(file, &document); err != nil {
		return fmt.Errorf("store gang %s: %w", gang.ID, err)
	}
	var out bytes.Buffer
	if err := writeJSON(&out, document.Content[0]); err != nil {
		return fmt.Errorf("store gang %s: %w", gang.ID, err)
	}
	g.Job = out.Bytes()
	return nil
}

// Stored is the gang of a plan that carries its job. Where that is at fault,
// the error is a fault.List.
func (d Document) Stored(g Gang) (jobs.Gang, error) {
	if g.Job == nil {
		return jobs.Gang{}, fault.Of(d.source.name, "the plan of gang %q does not hold its job: name the file it was made from", g.ID)
	}
	line := 1
	for i := range d.Gangs {
		if d.Gangs[i].ID == g.ID {
			line = max(1, d.source.lines[fmt.Sprintf("gangs[%d].job", i)])
		}
	}
	// JSON is YAML. The lines before it are empty, so that a fault has the
	// line that it has in the plan file.
	return intake.Parse(d.source.name, append([]byte(strings.Repeat("\n", line-1)), g.Job...))
}

// writeJSON writes a YAML node as JSON. Numbers stay as they are written;
// whatever is neither number, boolean nor null is a string.
func writeJSON(out *bytes.Buffer, node *yaml.Node) error {
	switch node.Kind {
	case yaml.MappingNode:
		out.WriteByte('{')
		for i := 0; i < len(node.Content); i += 2 {
			if i > 0 {
				out.WriteByte(',')
			}
			if err := writeString(out, node.Content[i].Value); err != nil {
				return err
			}
			out.WriteByte(':')
			if err := writeJSON(out, node.Content[i+1]); err != nil {
				return err
			}
		}
		out.WriteByte('}')
	case yaml.SequenceNode:
		out.WriteByte('[')
		for i, item := range node.Content {
			if i > 0 {
				out.WriteByte(',')
			}
			if err := writeJSON(out, item); err != nil {
				return err
			}
		}
		out.WriteByte(']')
	default:
		if node.Style == 0 && json.Valid([]byte(node.Value)) {
			out.WriteString(node.Value)
			return nil
		}
		return writeString(out, node.Value)
	}
	return nil
}

func writeString(out *bytes.Buffer, text string) error {
	e := json.NewEncoder(out)
	e.SetEscapeHTML(false)
	if err := e.Encode(text); err != nil {
		return err
	}
	out.Truncate(out.Len() - 1) // Encode's line break
	return nil
}
