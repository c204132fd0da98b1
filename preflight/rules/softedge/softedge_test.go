package softedge_test

import (
	"testing"

	"peelcheck/preflight/rules/softedge"
	"peelcheck/preflight/ruletest"
)

func TestRule(t *testing.T) { ruletest.Run(t, softedge.Rule) }
