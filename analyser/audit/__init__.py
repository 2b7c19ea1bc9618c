"""The judgement of a finished rope: evenness and comparing."""
