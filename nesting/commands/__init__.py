"""The commands, each as a function of what was given on the command line."""
