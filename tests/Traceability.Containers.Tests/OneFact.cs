using System.Net;
using System.Net.Http.Headers;
using System.Text;
using System.Text.Json;

namespace Traceability.Containers.Tests;

/// <summary>One device, one fact, as an outside client would send it: plain HTTP and JSON, nothing of the service's code.</summary>
public static class OneFact
{
    private const string Key = "0f3c5a7e9b1d2468ace02468ace13579";

    /// <summary>Content of the file that introduces the device to a new installation.</summary>
    public const string People =
        $$"""{ "devices": [{ "id": "form-1", "name": "Form bay", "key": "{{Key}}", "roles": ["form-crew"] }], "people": [] }""";

    private static readonly TimeSpan Patience = TimeSpan.FromMinutes(3);

    /// <summary>Waits until the service is ready, posts a reading about a unit, for which the device's key is enough, and reads the unit back with its fact.</summary>
    public static async Task IsRecordedAsync(Uri service)
    {
        using var http = new HttpClient { BaseAddress = service, Timeout = TimeSpan.FromSeconds(20) };
        http.DefaultRequestHeaders.Add("X-Device-Id", "form-1");
        http.DefaultRequestHeaders.Add("X-Device-Key", Key);
        await AnswersAsync(http, "health/ready");

        var fact = new StringContent(
            """
            {"specversion":"1.0","id":"oiled-1","source":"/plant/form-bay","type":"form.oiled.v1","subject":"unit:U-0001",
             "time":"2026-03-02T09:30:00-05:00","datacontenttype":"application/json",
             "data":{"form":"F-1","unit":"U-0001","releaseAgent":"A-1"}}
            """, Encoding.UTF8);
        fact.Headers.ContentType = new MediaTypeHeaderValue("application/cloudevents+json");
        using var answer = await http.PostAsync("v1/facts", fact);
        Assert.True(answer.IsSuccessStatusCode, $"{answer.StatusCode}: {await answer.Content.ReadAsStringAsync()}");

        using var unit = JsonDocument.Parse(await AnswersAsync(http, "v1/units/U-0001"));
        Assert.Equal(1, unit.RootElement.GetProperty("records").GetInt32());
        Assert.Contains("oiled-1", await http.GetStringAsync("v1/units/U-0001/dossier"));
    }

    private static async Task<string> AnswersAsync(HttpClient http, string path)
    {
        using var patience = new CancellationTokenSource(Patience);
        var last = "no answer";
        while (!patience.IsCancellationRequested)
        {
            try
            {
                using var answer = await http.GetAsync(path, patience.Token);
                last = $"{(int)answer.StatusCode}: {await answer.Content.ReadAsStringAsync()}";
                if (answer.StatusCode == HttpStatusCode.OK) return await answer.Content.ReadAsStringAsync();
            }
            catch (Exception e) when (e is HttpRequestException or OperationCanceledException)
            {
                last = e.Message;
            }

            await Task.Delay(TimeSpan.FromMilliseconds(200));
        }

        throw new TimeoutException($"GET {path} did not answer 200 within {Patience}; last: {last}");
    }
}
