using Traceability.PlantSimulator.Story;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using CsCheck;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Core.Tests.Events;

/// <summary>A fact that cannot be read is refused with the field, the limit and what to do; nothing else is ever thrown.</summary>
public class ShapeErrorTests
{
    private static IReadOnlyList<ShapeProblem> Problems(string type, string data) =>
        Assert.Throws<FactShapeException>(() => FactCatalog.Read(FactCatalog.All[type], JsonDocument.Parse(data).RootElement)).Problems;

    [Theory]
    [InlineData("cage.tied.v1", """{"cage":"C-1","unit":"U-1","drawing":"S-1","revision":"A","bars":[null],"crew":["p-1"]}""", "data.bars[0]")]
    [InlineData("cage.tied.v1", """{"cage":"C-1","unit":"U-1","drawing":"S-1","revision":"A","bars":[{"barMark":"A","size":"#4","count":1,"lots":[null]}],"crew":["p-1"]}""", "data.bars[0].lots[0]")]
    [InlineData("cage.tied.v1", """{"cage":"C-1","unit":"U-1","drawing":"S-1","revision":"A","bars":[{"barMark":"A","size":"#4","count":1,"lots":[{"producer":"a/b","number":"1"}]}],"crew":["p-1"]}""", "data.bars[0].lots[0].producer")]
    [InlineData("cage.tied.v1", """{"cage":"C-1","unit":"U-1","drawing":"S-1","revision":"A","bars":[{"barMark":"A","size":"#4","count":1,"lots":[{"producer":"a","number":"1"}]}],"crew":[null]}""", "data.crew[0]")]
    [InlineData("cage.tied.v1", "null", "data")]
    [InlineData("form.oiled.v1", """{"form":"F","form":"F","unit":"U","releaseAgent":"x"}""", "data.form")]
    [InlineData("cage.tied.v1", "[]", "data")]
    [InlineData("record.corrected.v1", """{"record":"3f0b9c1e-6a3d-5c4e-8f27-0d5f4b1a2c3d","replacedVersion":1,"type":"form.oiled.v1","data":{"form":"F","unit":" U","releaseAgent":"x"},"reason":"r"}""", "data.data.unit")]
    [InlineData("record.corrected.v1", """{"record":"3f0b9c1e-6a3d-5c4e-8f27-0d5f4b1a2c3d","replacedVersion":1,"type":"cage.tied.v1","data":{"bars":[null]},"reason":"r"}""", "data.data.bars[0]")]
    [InlineData("record.corrected.v1", """{"record":"3f0b9c1e-6a3d-5c4e-8f27-0d5f4b1a2c3d","replacedVersion":1,"type":"nothing.v1","data":{},"reason":"r"}""", "data.type")]
    [InlineData("record.corrected.v1", """{"record":"3f0b9c1e-6a3d-5c4e-8f27-0d5f4b1a2c3d","replacedVersion":1,"type":"record.corrected.v1","data":{},"reason":"r"}""", "data.type")]
    [InlineData("record.corrected.v1", """{"record":"3f0b9c1e-6a3d-5c4e-8f27-0d5f4b1a2c3d","replacedVersion":1,"type":"pour.released.v1","data":{},"reason":"r"}""", "data.type")]
    [InlineData("record.corrected.v1", """{"record":"3f0b9c1e-6a3d-5c4e-8f27-0d5f4b1a2c3d","replacedVersion":1,"type":"form.oiled.v1","data":null,"reason":"r"}""", "data.data")]
    [InlineData("record.corrected.v1", """{"record":"\r\n3f0b9c1e-6a3d-5c4e-8f27-0d5f4b1a2c3d","replacedVersion":1,"type":"form.oiled.v1","data":{"form":"F","unit":"U","releaseAgent":"x"},"reason":"r"}""", "data.record")]
    [InlineData("record.corrected.v1", """{"record":"0x0b9c1e-6a3d-5c4e-8f27-0d5f4b1a2c3d","replacedVersion":1,"type":"form.oiled.v1","data":{"form":"F","unit":"U","releaseAgent":"x"},"reason":"r"}""", "data.record")]
    [InlineData("record.corrected.v1", """{"record":"3f0b9c1e-+a3d-5c4e-8f27-0d5f4b1a2c3d","replacedVersion":1,"type":"form.oiled.v1","data":{"form":"F","unit":"U","releaseAgent":"x"},"reason":"r"}""", "data.record")]
    [InlineData("person.certified.v1", """{"person":"p-1","certification":"welder","issuer":"x","issuedOn":"2026-01-02","validThrough":"2026-01-01"}""", "data.validThrough")]
    public void The_field_is_named(string type, string data, string field)
    {
        var problems = Problems(type, data);

        Assert.Contains(problems, p => p.Field == field);
        Assert.All(problems, p => Assert.True(p.Limit.StartsWith("must", StringComparison.Ordinal) || p.Limit.StartsWith("is", StringComparison.Ordinal)));
        Assert.All(problems, p => Assert.EndsWith(".", p.Remedy, StringComparison.Ordinal));
    }

    [Fact]
    public void A_hostile_content_gives_a_bounded_answer()
    {
        var many = new JsonObject(Enumerable.Range(0, 5000).Select(i => KeyValuePair.Create($"x{i}" + new string('y', 500), (JsonNode?)1)));

        var problems = Problems("form.oiled.v1", many.ToJsonString());

        Assert.InRange(problems.Count, 1, 25);
        Assert.All(problems, p => Assert.True(p.ToString().Length < 500));
    }

    [Theory]
    [InlineData("\"time\":\"2026-03-02T09:30:00.123456789Z\"", "2026-03-02T09:30:00.1234567+00:00")]
    [InlineData("\"time\":\"2026-03-02t09:30:00z\"", "2026-03-02T09:30:00+00:00")]
    [InlineData("\"time\":\"2026-03-02T09:30:00-05:00\"", "2026-03-02T09:30:00-05:00")]
    public void Times_are_read_as_clients_write_them(string time, string expected)
    {
        var sent = CloudEvent.Read(Encoding.UTF8.GetBytes($$"""{"specversion":"1.0","id":"1","source":"/a","type":"x.v1",{{time}},"data":{} }"""));

        Assert.Equal(DateTimeOffset.Parse(expected, System.Globalization.CultureInfo.InvariantCulture), sent.Time);
    }

    [Theory]
    [InlineData("\"id\":\"a\\nb\"", "id")]
    [InlineData("\"source\":\"a b\"", "source")]
    [InlineData("\"person\":\" p\"", "person")]
    [InlineData("\"clockoffsetms\":99999999999999", "clockoffsetms")]
    [InlineData("\"data\":{\"a\":[\"x\\u0000\"]}", "data")]
    [InlineData("\"data\":{\"a\\u0000\":1}", "data")]
    [InlineData("\"Trace\":\"x\"", "Trace")]
    [InlineData("\"traceparent\":[1]", "traceparent")]
    public void Attributes_that_could_do_harm_later_are_refused_at_once(string attribute, string field)
    {
        var members = JsonNode.Parse("""{"specversion":"1.0","id":"1","source":"/a","type":"x.v1","time":"2026-03-02T09:30:00Z","data":{} }""")!.AsObject();
        foreach (var (name, value) in JsonNode.Parse("{" + attribute + "}")!.AsObject().ToList()) members[name] = value?.DeepClone();

        var refused = Assert.Throws<FactShapeException>(() => CloudEvent.Read(Encoding.UTF8.GetBytes(members.ToJsonString())));

        Assert.Equal(field, Assert.Single(refused.Problems).Field);
    }

    [Fact]
    public void Nesting_that_a_record_around_it_could_not_carry_is_refused()
    {
        var deep = string.Concat(Enumerable.Repeat("[", 40)) + string.Concat(Enumerable.Repeat("]", 40));

        var refused = Assert.Throws<FactShapeException>(() => CloudEvent.Read(Encoding.UTF8.GetBytes($$"""{"specversion":"1.0","id":"1","source":"/a","type":"x.v1","time":"2026-03-02T09:30:00Z","data":{{deep}} }""")));

        Assert.Equal("event", Assert.Single(refused.Problems).Field);
    }

    [Fact]
    public void Whatever_is_sent_is_read_or_refused_by_name_and_what_is_read_links_without_fault()
    {
        var types = FactCatalog.All.Values.OrderBy(t => t.Type, StringComparer.Ordinal).ToList();
        var envelope = Gen.Int[0, types.Count - 1].SelectMany(i => Gen.Select(FactGen.Content(types[i].Shape, 30), Gen.Int[0, 40], Gen.String)
            .Select((content, spoil, text) => (types[i].Type, content, spoil, text)));

        envelope.Sample(e =>
        {
            var sent = JsonObject.Create(FactSchemaTests.Envelope(e.Type, JsonSerializer.SerializeToElement(e.content)))!;
            var names = sent.Select(p => p.Key).ToList();
            if (e.spoil < names.Count) sent[names[e.spoil]] = e.text;
            try
            {
                var read = CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(sent));
                var bytes = Record.Write(read, read.RecordId, e.text, "intake", read.Time, read.Time);
                Assert.True(CanonicalJson.IsCanonical(bytes));
                var record = Record.Read(bytes, 1);
                Assert.Equal(record.Fact is null, record.Unreadable is not null);
                Assert.Equal(read.ContentHash, record.Sent.ContentHash);
                Assert.NotEqual(default, record.OccurredAt.At);
                Assert.All(record.Links(), l => Assert.True(Subject.TryParse(l.From.Key, out _) && Subject.TryParse(l.To.Key, out _)));
                _ = Assemble.Unit(new Dossier(Subject.Unit("U"), 1, [record, record], PlantStory.Time));
            }
            catch (FactShapeException refused)
            {
                Assert.All(refused.Problems, p => Assert.True(p.Field.Length > 0 && p.Limit.Length > 0 && p.Remedy.Length > 0));
            }
            catch (CanonicalJsonException)
            {
                // A lone surrogate among the random texts has no canonical form.
            }
        }, iter: 2000);
    }

    [Fact]
    public void Bytes_that_are_no_record_are_refused_as_such()
    {
        var record = Record.Write(CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(FactSchemaTests.Envelope("form.oiled.v1", Golden.Data("form.oiled.v1", "complete")))),
            Guid.NewGuid(), "d", "intake", DateTimeOffset.UnixEpoch, DateTimeOffset.UnixEpoch);

        Gen.Select(Gen.Int[0, record.Length - 1], Gen.Byte).Sample((at, changed) =>
        {
            var spoiled = (byte[])record.Clone();
            spoiled[at] = changed;
            try
            {
                _ = Record.Read(spoiled, 1);
            }
            catch (JsonException)
            {
                // Documented.
            }
        }, iter: 2000);
    }
}
