// A sketch builder wants this file; everything, main() included, stands below src/.
