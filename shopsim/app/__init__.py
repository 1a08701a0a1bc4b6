"""The web app: a maker's screen in a browser on the same computer. The only home of streamlit."""
