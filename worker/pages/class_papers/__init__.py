"""What a class needs beside packs: covers, separators and print runs."""
