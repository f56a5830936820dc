using Traceability.PlantSimulator.Story;
using Traceability.Service.Packets;

namespace Traceability.Service.Tests.Packets;

public class PacketTests
{
    [Fact]
    public void Look()
    {
        var p = PacketBuilder.Build(PacketCase.Of().Request());
        Directory.CreateDirectory("/tmp/look"); foreach (var f in p.Files) File.WriteAllBytes("/tmp/look/" + f.Name, f.Bytes);
        var q = PacketBuilder.Build(PacketCase.Of(6, Mishaps.All, confirmed: false).Request(draft: true));
        Directory.CreateDirectory("/tmp/look6"); foreach (var f in q.Files) File.WriteAllBytes("/tmp/look6/" + f.Name, f.Bytes);
    }
}
