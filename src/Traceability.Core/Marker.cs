namespace Traceability.Core; internal static class Marker;
