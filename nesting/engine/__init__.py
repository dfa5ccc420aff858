"""The packer: boards and needs in, a cutting plan out."""
