"""What a quilter writes."""
