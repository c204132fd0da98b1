package blank

import (
	"testing"

	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, Rule) }
